"""What the coach wrote: sessions, rosters, movements; reading, checking, start groups."""
