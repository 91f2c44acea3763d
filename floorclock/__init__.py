"""floorclock: an interval clock and pacing coach for the gym floor."""

__version__ = "0.1.0"
