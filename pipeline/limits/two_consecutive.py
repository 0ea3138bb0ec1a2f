"""Two consecutive: no two records on end, 15 minutes apart, beyond the limit (40 CFR 141.175(b), 141.563).

The records are counted, not the time: one record outside is nothing, and two with a gap or a time out of
service between them are not consecutive. Of a faster record the values at the quarters of the hour count;
of a slower one nothing can be said.
"""

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.consecutive import two_on_end


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the furthest out that two records on end both stood, and every run of such records."""
    return two_on_end(record, limit, period)
