"""Tally: what limit statistics count and average, and which stretch of time speaks for a limit."""
