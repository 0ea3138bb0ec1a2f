"""Instruments: one row a device, with its service interval and what error it may have."""

from pydantic import Field

from pipeline.config.rows import Row


class Instrument(Row):
    """One measuring device; the larger of the two tolerances holds."""

    instrument: str
    kind: str = ""
    place: str = ""
    service_days: float | None = Field(default=None, gt=0)
    tolerance: float | None = Field(default=None, ge=0)
    tolerance_pct: float | None = Field(default=None, ge=0)
    tolerance_source: str = ""
    guards: str = ""

    @property
    def guarded(self) -> tuple[str, ...]:
        """The limits it guards, by id; written ``CL2-RULE|CL2-LOW``."""
        return tuple(part.strip() for part in self.guards.split("|") if part.strip())

    def tolerance_at(self, reading: float) -> float | None:
        """Tolerance in the tag's unit at `reading`; None where the plant names none."""
        parts = [part for part in (self.tolerance, self._share_of(reading)) if part is not None]
        return max(parts) if parts else None

    def _share_of(self, reading: float) -> float | None:
        return None if self.tolerance_pct is None else abs(reading) * self.tolerance_pct / 100.0
