"""One file a revision; none is changed once it is released."""
