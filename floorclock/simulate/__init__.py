"""Invented athletes and an invented coach; whole classes without people."""
