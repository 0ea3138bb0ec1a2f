"""Month minutes: for how long each calendar month may stand outside the limit, in minutes (`allow`).

The clock is the integral of known time outside, so that it adds up across midnight; an episode over the
end of a month is shared out between the two. For pH recorded continuously 40 CFR 401.17 allows 7 h 26 min,
that is 446 min, where the permit says so (the number is from memory).
"""

from pipeline.clock import Period, months_of
from pipeline.config.limits import Limit
from pipeline.record import Record, compared
from pipeline.result import LimitResult
from pipeline.tally.decide import over
from pipeline.tally.minutes import minutes_outside

NEEDS = ("allow",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the months that the period touches; the one not ended, so far."""
    judged = compared(record, limit)
    return over(months_of(period), lambda month: minutes_outside(judged, limit, month))
