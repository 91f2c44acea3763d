"""What is seen in a terminal: the floor, the brief, the review, the speaker's tuner."""
