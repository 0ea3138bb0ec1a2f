"""Deliver: each week's report goes to those whom ``[mail]`` names, once."""
