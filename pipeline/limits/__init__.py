"""Limits: one file a statistic that a permit or a rule names; a row of limits.csv picks it by file name.

A statistic is a module with one function::

    def assess(record: Record, limit: Limit, period: Period) -> LimitResult

It sees the held record of the tag (`pipeline.assess.Record`) up to the end of the period and says what
the limit came to within it. It never says `within` of time it knows nothing about: below
`pipeline.assess.LOWEST_COVERAGE_PCT` the answer is "not assessable", unless what is known is outside.

Beside it may stand ``NEEDS``, the columns of limits.csv that it takes; ``BASES``, whether it reads the lab's
samples too; ``RESTS_ON_SEGMENTS = True``, where the disinfection segments are its record, and not its tag.
"""
