"""Baseline: what a tag usually does, learned from its own past and never from its future."""
