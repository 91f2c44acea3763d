"""What is seen: the floor on the wall."""
