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

A long file comes in slabs of whole lines, and `read` is called for each: ``sheet.head`` is always that of
the file. A layout may have three names more:

``WHOLE = True``
    It needs the whole file at once; memory then grows with the file.
``grid(sheet: Sheet) -> tuple[Grid, DataFrame of REFUSED] | None``
    The same as cells, a line a time and a column a tag, which go into the archive several times faster;
    None where a sheet is not as plain as that. Both ways must lead to the same archive.
``numbered(sheet: Sheet) -> tuple[Numbered, DataFrame of REFUSED] | None``
    The same with the values as numbers, where a point is the decimal mark; None and the archive as for
    `grid`.

Its test is a sample export with the golden table of what comes out.
"""
