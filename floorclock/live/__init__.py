"""One running class: the conductor, opening and resuming, the sound around it. Knows no screen."""
