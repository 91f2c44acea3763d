"""What must not be lost: the journal of each class, and what can be taken out of it."""
