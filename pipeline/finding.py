"""Finding: one suspicion about one instrument, with its evidence and an id that never changes."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

Severity = Literal["act", "watch", "note"]
Status = Literal["new", "ongoing", "cleared"]

SEVERITIES: tuple[Severity, ...] = ("act", "watch", "note")

SETTLED = ("dismissed", "process")
"""Verdicts after which a finding asks for nobody's time any more."""

UNDOUBTED = ("gap", "strayed")
"""Kinds that cast no doubt on what was recorded: without a reading there is nothing to doubt, and where
readings jumped away and back it may as well have been the water, as when dosing failed and was put right."""


def finding_id(tag: str, kind: str, crossed: date) -> str:
    """Return the stable id: tag, kind and the local day the evidence first crossed its bar."""
    return f"{tag}.{kind}.{crossed.isoformat()}"


@dataclass(frozen=True)
class Finding:
    """What a check says of a tag.

    Parameters
    ----------
    tag, instrument, kind : str
        Who, and which check (the check's file name).
    severity : {"act", "watch", "note"}
        `act`: past tolerance or without a usable reading now. `watch`: likely to be. `note`: for the record.
    crossed : date
        Local day on which the evidence known by then first crossed its bar.
    start : datetime
        When the trouble itself began, as far as can be told [UTC].
    end : datetime or None
        When it was over; None while it lasts.
    estimate, ci_low, ci_high : float or None
        Present error with its 95 % interval [unit]; None where an error cannot be named.
    rate_per_week : float or None
        Growth of the error [unit/week].
    reference : str
        What it rests on: a lab grab, the instrument's own history, the recording itself.
    evidence, check_first : str
        One sentence with its numbers; what to look at first.
    tolerance : float or None
        Admissible error [unit] and where that number comes from.
    others : tuple of str
        Further tags that it speaks of: what stands still with it, what it may be the fault of.
    listed : date or None
        Local day since which it asks for somebody, where it was first for the record only.
    reaches_tolerance_on : date or None
        Day on which the error passes, or passed, the tolerance at the present rate.
    """

    tag: str
    instrument: str
    kind: str
    severity: Severity
    crossed: date
    start: datetime
    end: datetime | None
    reference: str
    evidence: str
    check_first: str
    unit: str = ""
    estimate: float | None = None
    ci_low: float | None = None
    ci_high: float | None = None
    rate_per_week: float | None = None
    tolerance: float | None = None
    tolerance_source: str = ""
    reaches_tolerance_on: date | None = None
    listed: date | None = None
    others: tuple[str, ...] = ()
    status: Status = "new"
    verdict: str = ""

    @property
    def finding_id(self) -> str:
        """Stable id."""
        return finding_id(self.tag, self.kind, self.crossed)

    @property
    def is_open(self) -> bool:
        """Whether the trouble still lasts."""
        return self.end is None

    @property
    def casts_doubt(self) -> bool:
        """Whether it makes doubtful what its instrument recorded; not once a verdict has settled it."""
        return self.kind not in UNDOUBTED and self.verdict not in SETTLED

    def overlaps(self, start: datetime, end: datetime) -> bool:
        """Whether the trouble lay, in part at least, between two instants."""
        return self.start < end and (self.end is None or self.end > start)
