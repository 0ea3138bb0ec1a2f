"""Layouts: one file a way of arranging an export. Add a file here and it is found.

A layout is a module with a constant and two functions:

``ONE_TIME_A_LINE: bool``
    Whether a line holds one time for all its readings.
``recognises(head: Head) -> bool``
    Whether the first lines are its own. Exactly one layout may say so.
``read(sheet: Sheet) -> tuple[DataFrame of RAW, DataFrame of REFUSED]``
    Every reading as text, in the order of the file within each tag, and every line that could not be
    cut into cells. A layout never interprets: times, numbers and quality stay as written. Where the export
    gives units, RAW has one more column, ``unit``; the names of tags may be an Enum.

Its test is a sample export with the golden table of what comes out.
"""
