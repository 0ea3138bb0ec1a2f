"""Schedule: the operating system's own timer calls `run` every week; nothing of ours stays resident."""
