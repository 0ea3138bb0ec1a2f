"""Path: which area lies downstream of which, and how long the water takes, as plant.toml says."""

from dataclasses import dataclass, field
from datetime import timedelta

from pipeline.config.plant import PlantFile


@dataclass(frozen=True)
class Path:
    """How water travels through the areas.

    Parameters
    ----------
    plant_of : dict of str to str
        For each area: ``water`` or ``wastewater``.
    order : tuple of str
        Areas as the config lists them.
    minutes : dict of (str, str) to float
        From each area to each one downstream of it, the quickest way [min].
    dead_minutes : dict of str to float
        How late each tag shows what happens where it stands [min].
    """

    plant_of: dict[str, str]
    order: tuple[str, ...]
    minutes: dict[tuple[str, str], float] = field(default_factory=dict)
    dead_minutes: dict[str, float] = field(default_factory=dict)

    def travel(self, one: str, other: str) -> timedelta:
        """Time from one area to another, whichever lies upstream; nothing where the config does not say."""
        known = (self.minutes.get((one, other)), self.minutes.get((other, one)))
        return timedelta(minutes=next((value for value in known if value is not None), 0.0))

    def is_downstream(self, area: str, of: str) -> bool:
        """Whether water comes to `area` from `of`."""
        return (of, area) in self.minutes

    def dead(self, tag: str) -> timedelta:
        """How late a tag is."""
        return timedelta(minutes=self.dead_minutes.get(tag, 0.0))


def path_of(file: PlantFile) -> Path:
    """Return the path that plant.toml describes."""
    order = tuple(area.id for area in file.area)
    quickest = {(reach.source, reach.to): reach.minutes for reach in file.path}
    for middle in order:
        for first in order:
            for last in order:
                ways = [quickest.get((first, middle)), quickest.get((middle, last))]
                if None not in ways and first != last:
                    through = sum(way for way in ways if way is not None)
                    quickest[first, last] = min(quickest.get((first, last), through), through)
    dead = {late.tag: late.minutes for late in file.dead_time}
    return Path({area.id: area.plant for area in file.area}, order, quickest, dead)
