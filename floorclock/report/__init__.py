"""After class: what was done, in words and pictures."""
