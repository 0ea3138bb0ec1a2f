"""Neighbours: what several tags say together, put on each one's Case before the checks look at it.

Every module takes the cases of a plant and returns, tag by tag, what its neighbours tell of it: that they
stand still together, show the same numbers, or let expect something else by physics. A day is judged by
what was known on it: nothing said of it changes when later data arrive.
"""
