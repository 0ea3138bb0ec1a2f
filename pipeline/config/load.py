"""Load: a plant's whole config, or one error that lists everything wrong with it."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import tzinfo
from functools import cached_property
from pathlib import Path

from pipeline.clock import zone_of
from pipeline.config.clauses import with_clauses
from pipeline.config.instruments import Instrument
from pipeline.config.limits import Limit
from pipeline.config.links import Links
from pipeline.config.plant import PlantFile, State, read_plant
from pipeline.config.rows import read_rows
from pipeline.config.tags import Tag
from pipeline.errors import ConfigError, Fault


@dataclass(frozen=True)
class Plant:
    """All that a plant's config says."""

    folder: Path
    file: PlantFile
    tags: dict[str, Tag]
    instruments: dict[str, Instrument]
    limits: dict[str, Limit]

    @property
    def name(self) -> str:
        """The plant's name."""
        return self.file.name

    @cached_property
    def zone(self) -> tzinfo:
        """The plant's time zone."""
        return zone_of(self.file.time_zone)

    @cached_property
    def states(self) -> dict[str, State]:
        """Operating states by name."""
        return {state.name: state for state in self.file.state}

    @property
    def archive(self) -> Path:
        """Folder of the archive."""
        return self.folder / "archive"

    @property
    def reports(self) -> Path:
        """Folder of the reports."""
        return self.folder / "reports"


def load(
    folder: Path,
    statistics: Mapping[str, Collection[str]] | None = None,
    checks: Collection[str] = (),
    beyond: Callable[[Plant], Iterable[Fault]] = lambda plant: (),
) -> Plant:
    """Read and cross-check the config of the plant in `folder`.

    Parameters
    ----------
    folder : Path
        The plant's folder; its ``config/`` is read.
    statistics : mapping of str to collection of str, optional
        Names that limits.csv may use, each with the columns it must find filled in; empty = any.
    checks : collection of str
        Names that ``[checks.<kind>]`` may use; empty = any.
    beyond : callable, optional
        Names what else is wrong with a plant, of which only the sound rows are there.

    Raises
    ------
    ConfigError
        Every fault found, with file, row and column.
    """
    config = folder / "config"
    read = read_plant(config / "plant.toml")
    tags = read_rows(config / "tags.csv", Tag, "tag")
    instruments = read_rows(config / "instruments.csv", Instrument, "instrument")
    limits = read_rows(config / "limits.csv", Limit, "limit_id")
    filled, faults = with_clauses(limits.rows)
    faults += [*read.faults, *tags.faults, *instruments.faults, *limits.faults]
    if not tags.names and not tags.faults:
        faults.append(Fault("config/tags.csv", None, None, "no tags", "add a row for each"))
    faults += Links(read, tags, instruments, limits, filled, statistics or {}, checks).faults()
    plant = Plant(
        folder,
        read.file,
        {tag.tag: tag for tag in tags.rows},
        {instrument.instrument: instrument for instrument in instruments.rows},
        {limit.limit_id: limit for limit in filled},
    )
    faults += beyond(plant)
    if faults:
        raise ConfigError(faults)
    return plant
