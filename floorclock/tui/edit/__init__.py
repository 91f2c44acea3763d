"""The plan beside the coach's own editor."""
