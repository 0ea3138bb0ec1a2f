"""Benchmarks: every figure we claim, measured by a command that anyone can run again."""
