"""The index of all classes, in SQL; made from the journals and nothing else."""
