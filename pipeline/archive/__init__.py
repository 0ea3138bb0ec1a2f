"""Archive: Parquet by month and area, the ledger of deliveries, and all that was displaced or refused.

``trends/<area>/<YYYY-MM>.parquet``
    One row a tag and instant, by UTC month; sorted by tag and time, a row group a tag.
``superseded/<source>/<area>-<YYYY-MM>.parquet``
    What the delivery `source` displaced, with ``displaced_by``.
``refused/<source>.csv``
    What could not be read of it, with line and reason.
``areas.csv``
    The area each tag is stored under, whatever the config calls it later.
``ledger.csv``
    One line a delivery, written last: a delivery without its line is unfinished and is taken back by
    the next run, with the help of ``unfinished.json``.
``.waiting/``
    What of a very long export does not fit in memory while it is read; every run begins without it.
``.seen.csv``
    Size and time of last change of large exports, so that a known one need not be read to be known. A
    cache: it may be deleted.
``.shapes/``
    How far every tag departed from its usual course, a file a quarter. A cache: it may be deleted.
"""
