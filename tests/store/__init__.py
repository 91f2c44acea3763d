"""The index of all classes, on both kinds of database."""
