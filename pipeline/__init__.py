"""Stillwell: trend exports in, a weekly report of excursions and doubtful instruments out."""

__version__ = "0.1.0"
