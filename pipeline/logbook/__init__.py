"""Logbook: what people wrote down; one module a table, each ``read(folder, zone, …) -> (frame, faults)``.

Times are the plant's wall clock unless they carry an offset. A line that cannot be understood becomes a
fault with file, row and column, and the other lines are read.
"""
