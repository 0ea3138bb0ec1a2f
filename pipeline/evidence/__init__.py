"""Evidence: series of an instrument's errors against a reference, and when they are worth a visit."""
