"""What is heard: cue buffers, the mixer, outputs."""
