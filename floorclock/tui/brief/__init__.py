"""The brief pages on the whole screen."""
