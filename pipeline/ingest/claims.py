"""Claims: letters of the plant's own zone say a season; the stamps are held against what they say.

Standard time is named so all year: EST and MST are zones of one offset (the tz database; its EST5EDT and
MST7MDT are the wall clock), and public records of loggers keep it, such as those of the National Estuarine
Research Reserves: "date/time stamp (local standard time)".
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone, tzinfo
from typing import Literal

import polars as pl

from pipeline.clock import to_local
from pipeline.errors import RefusedError
from pipeline.ingest.clean import Cleaned
from pipeline.ingest.grid import TIME
from pipeline.ingest.nights import changes_on, nights_of, offset_text, told
from pipeline.ingest.zones import ZONES

_REMEDY = (
    "say what its times are with time_zone in config/plant.toml, [reading]: "
    "the plant's {zone} for the wall clock, {offset} for standard time all year"
)
_CHANGING = (3, 10, 11)
"""Months in which clocks change."""


@dataclass
class Claim:
    """What a header says of the season of its times, and what its stamps show.

    Parameters
    ----------
    letters : str
        As in the header, in lower case.
    says : {"standard", "daylight", "either"}
        "either" of words such as ``mountain standard time``: some systems call the wall clock so all year.
    plant : tzinfo
        The plant's zone.
    offsets : tuple of timedelta
        The plant's, of standard and of daylight time.
    """

    letters: str
    says: Literal["standard", "daylight", "either"]
    plant: tzinfo
    offsets: tuple[timedelta, timedelta]
    seasons: dict[str, datetime] = field(default_factory=dict)
    _near: list[pl.Series] = field(default_factory=list)

    @property
    def zone(self) -> tzinfo | None:
        """The zone in which the times are read; None for the plant's wall clock."""
        return timezone(self.offsets[0]) if self.says == "standard" else None

    def note(self, cleaned: Cleaned) -> None:
        """Look at the times of a slab, as they were read."""
        lines = [] if cleaned.plain is None else [cleaned.plain[TIME].alias("time")]
        times = pl.concat([cleaned.readings["time"], *lines])
        local = times.to_frame("time").select(
            to_local(pl.col("time"), self.plant).alias("local"),
            (pl.col("time").dt.replace_time_zone(None) + self.offsets[0]).alias("standard"),
        )
        for name, ahead in (("winter", 0), ("summer", 1)):
            shift = self.offsets[ahead] - self.offsets[0]
            found = local.filter(pl.col("local") - pl.col("standard") == shift)["local"].min()
            if isinstance(found, datetime):
                self.seasons.setdefault(name, found)
        walls = local["standard"]
        self._near.append(walls.filter(walls.dt.month().is_in(_CHANGING) & (walls.dt.hour() < 5)))

    def refuse_contradiction(self, file: str) -> None:
        """Refuse a file whose stamps are not of the season that its header says, or could be of either.

        Raises
        ------
        RefusedError
            What the header says and what the stamps show.
        """
        problem = self._contradiction()
        if problem:
            remedy = _REMEDY.format(zone=self.plant, offset=offset_text(self.offsets[0]))
            raise RefusedError(file, problem, remedy)

    def _contradiction(self) -> str:
        says = self.letters.upper() if " " not in self.letters else self.letters.title()
        if self.says == "standard":
            found = nights_of(pl.concat(self._near)) if self._near else ()
            nights = [night for night in found if changes_on(self.plant, night.day)]
            if not nights or any(not night.changed for night in nights):
                return ""
            return (
                f"its header says {says}, standard time, but its clock follows the change: {told(nights[0])}"
            )
        season = "winter" if self.says == "daylight" else "summer"
        if season not in self.seasons:
            return ""
        when = f"{self.seasons[season]:%Y-%m-%d %H:%M}"
        if self.says == "daylight":
            return f"its header says {says}, daylight time, but {when} lies in winter"
        return f"its header says {says} of {when} in summer, which may be standard time or the wall clock"


def claim_of(letters: str | None, plant: tzinfo) -> Claim | None:
    """Return what letters or words of the plant's own zone say; None where they say nothing of the season."""
    winter, summer = (datetime(2026, month, 1, tzinfo=plant) for month in (1, 7))
    offsets = (winter.utcoffset() or timedelta(), summer.utcoffset() or timedelta())
    if letters is None or offsets[0] == offsets[1]:
        return None
    if letters in ZONES and letters == (winter.tzname() or "").lower():
        return Claim(letters, "standard", plant, offsets)
    if letters in ZONES and letters == (summer.tzname() or "").lower():
        return Claim(letters, "daylight", plant, offsets)
    return Claim(letters, "either", plant, offsets) if " standard time" in letters else None
