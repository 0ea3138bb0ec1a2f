"""Longest excursion: for how long on end the record may stand outside the limit, in minutes (`allow`).

For the residual at the entry point `allow` is 240: "not below 0.2 mg/L for more than 4 hours" (40 CFR
141.72(b)(2)), so that 4 h 00 min is within and 4 h 15 min is not. For pH recorded continuously it is 60 (40
CFR 401.17, from memory).

Only a good reading back inside ends an excursion: a gap is no recovery. Time without readings between two
readings outside therefore counts; where the record breaks off outside, it may have lasted longer, and if it
may have lasted too long the answer is "not assessable".
"""

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record, compared
from pipeline.result import LimitResult
from pipeline.tally.minutes import longest

NEEDS = ("allow",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the longest excursion that touches the period, whole, however long before it began."""
    return longest(compared(record, limit), limit, period)
