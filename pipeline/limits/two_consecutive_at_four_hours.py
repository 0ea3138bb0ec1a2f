"""Two consecutive at four hours: two records on end beyond the limit, four hours into a run.

40 CFR 141.175(b)(2). A run begins where the state of the tag's ``valid_when`` does: a filter is put on
after a backwash or a time off line. The record that stood at four hours of it is looked at, with the one
before and the one after: the rule does not say on which side of the mark the two lie. A run that ended
earlier has no such record, and where none was due in the period there is nothing that could be outside.
"""

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.starts import at_mark


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the furthest out that two records on end both stood at four hours of a run."""
    return at_mark(record, limit, period)
