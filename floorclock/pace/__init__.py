"""What the taps mean: splits, rest, flags, summary."""
