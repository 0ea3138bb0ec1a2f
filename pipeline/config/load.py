"""Load: a plant's whole config, or one error that lists everything wrong with it."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import tzinfo
from functools import cached_property
from pathlib import Path

from pipeline.clock import zone_of
from pipeline.config.clauses import with_clauses
from pipeline.config.expressions import parse
from pipeline.config.instruments import Instrument
from pipeline.config.limits import Limit
from pipeline.config.plant import PlantFile, State, read_plant
from pipeline.config.rows import read_rows
from pipeline.config.tags import Tag
from pipeline.errors import ConfigError, Fault
from pipeline.units import conversion


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
    folder: Path, statistics: Mapping[str, Collection[str]] | None = None, checks: Collection[str] = ()
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

    Raises
    ------
    ConfigError
        Every fault found, with file, row and column.
    """
    config = folder / "config"
    file, faults = read_plant(config / "plant.toml")
    tags, tag_faults = read_rows(config / "tags.csv", Tag, "tag")
    instruments, instrument_faults = read_rows(config / "instruments.csv", Instrument, "instrument")
    limits, limit_faults = read_rows(config / "limits.csv", Limit, "limit_id")
    limits, clause_faults = with_clauses(limits)
    faults += [*tag_faults, *instrument_faults, *limit_faults, *clause_faults]
    if file is None or not tags:
        raise ConfigError(faults or [Fault("config/tags.csv", None, None, "no tags", "add a row for each")])
    plant = Plant(
        folder,
        file,
        {tag.tag: tag for tag in tags},
        {instrument.instrument: instrument for instrument in instruments},
        {limit.limit_id: limit for limit in limits},
    )
    # A row that fell out for its own fault must not be reported again by those that name it.
    faults += [*_tag_links(plant, complete=not tag_faults and not instrument_faults)]
    faults += [*_limit_links(plant, statistics or {}, complete=not tag_faults)]
    faults += [*_guards(plant)] if not limit_faults and not clause_faults else ()
    faults += [*_plant_links(plant, checks, complete=not tag_faults)]
    if faults:
        raise ConfigError(faults)
    return plant


def _tag_links(plant: Plant, complete: bool) -> list[Fault]:
    faults: list[Fault] = []
    areas = [area.id for area in plant.file.area]
    exports: dict[str, str] = {}
    for tag in plant.tags.values():
        here = ("config/tags.csv", tag.row)
        if tag.area not in areas:
            faults.append(Fault(*here, "area", f"no area {tag.area!r}", f"use one of {', '.join(areas)}"))
        if complete and tag.instrument and tag.instrument not in plant.instruments:
            remedy = "add it to config/instruments.csv or correct the name"
            faults.append(Fault(*here, "instrument", f"no instrument {tag.instrument!r}", remedy))
        if complete and tag.twin and tag.twin not in plant.tags:
            faults.append(Fault(*here, "twin", f"no tag {tag.twin!r}", "name another tag, or leave it blank"))
        if complete:
            faults += _names_known(plant, *here, "valid_when", tag.valid_when)
        if tag.name_in_export in exports:
            problem = f"{tag.name_in_export!r} is also the export name of {exports[tag.name_in_export]}"
            faults.append(Fault(*here, "export_name", problem, "give each tag its own"))
        exports[tag.name_in_export] = tag.tag
        try:
            tag.conversion()
        except ValueError as error:
            faults.append(Fault(*here, "export_unit", str(error), "use units of the same kind"))
    return faults


def _names_known(plant: Plant, file: str, row: int | None, column: str, text: str) -> list[Fault]:
    if not text:
        return []
    unknown = [name for name in parse(text).names if name not in plant.tags and name not in plant.states]
    remedy = "use a tag of config/tags.csv or a state of config/plant.toml"
    return [Fault(file, row, column, f"no tag or state {name!r}", remedy) for name in unknown]


def _limit_links(plant: Plant, statistics: Mapping[str, Collection[str]], complete: bool) -> list[Fault]:
    faults: list[Fault] = []
    for limit in plant.limits.values():
        here = ("config/limits.csv", limit.row)
        tag = plant.tags.get(limit.tag)
        if tag is None:
            if complete:
                faults.append(Fault(*here, "tag", f"no tag {limit.tag!r}", "use a tag of config/tags.csv"))
        elif limit.unit and limit.unit != tag.unit and not limit.second_tag:
            problem = f"{limit.unit!r} is not the unit of {tag.tag} ({tag.unit})"
            faults.append(Fault(*here, "unit", problem, "write the limit in the tag's unit"))
        if statistics and limit.statistic not in statistics:
            problem = f"no statistic {limit.statistic!r}"
            faults.append(Fault(*here, "statistic", problem, f"use one of {', '.join(sorted(statistics))}"))
        faults += _cells_needed(limit, statistics.get(limit.statistic, ()))
        if complete and limit.second_tag and limit.second_tag not in plant.tags:
            problem = f"no tag {limit.second_tag!r}"
            faults.append(Fault(*here, "second_tag", problem, "use a tag of config/tags.csv"))
    return faults


def _guards(plant: Plant) -> Iterator[Fault]:
    """Name what instruments say they guard and is no limit; it would weigh nothing in their rank."""
    for instrument in plant.instruments.values():
        for limit_id in instrument.guarded:
            if limit_id not in plant.limits:
                problem, remedy = f"no limit {limit_id!r}", "use a limit_id of config/limits.csv, parted by |"
                yield Fault("config/instruments.csv", instrument.row, "guards", problem, remedy)


def _cells_needed(limit: Limit, columns: Collection[str]) -> Iterator[Fault]:
    for column in columns:
        if getattr(limit, column) in (None, ""):
            problem = f"{limit.statistic} takes it, and the cell is blank"
            yield Fault("config/limits.csv", limit.row, column, problem, "fill it in; see README.md")


def _segment_links(plant: Plant) -> Iterator[Fault]:
    for segment in plant.file.disinfection_segment:
        for what, (name, unit) in segment.units.items():
            yield from _measured_in(plant, f"disinfection_segment.{segment.name}.{what}", name, unit)


def _measured_in(plant: Plant, where: str, name: str, unit: str) -> Iterator[Fault]:
    tag = plant.tags.get(name)
    if tag is None:
        yield Fault("config/plant.toml", None, where, f"no tag {name!r}", "use a tag of config/tags.csv")
        return
    try:
        conversion(tag.unit, unit)
    except ValueError as error:
        remedy = f"name a tag that is measured in {unit} or alike"
        yield Fault("config/plant.toml", None, where, str(error), remedy)


def _physics_links(plant: Plant) -> Iterator[Fault]:
    physics = plant.file.physics
    for key, tables in physics:
        for number, table in enumerate(tables, start=1):
            for what, (name, unit) in table.units.items():
                yield from _measured_in(plant, f"physics.{key} {number}: {what}", name, unit)
    for number, one in enumerate(physics.running, start=1):
        where = f"physics.running {number}: when"
        yield from _names_known(plant, "config/plant.toml", None, where, one.when)
    for number, pace in enumerate(physics.feed_pace, start=1):
        if pace.analyser not in plant.tags:
            where = f"physics.feed_pace {number}: analyser"
            remedy = "use a tag of config/tags.csv"
            yield Fault("config/plant.toml", None, where, f"no tag {pace.analyser!r}", remedy)


def _travel_links(plant: Plant, complete: bool) -> Iterator[Fault]:
    areas = [area.id for area in plant.file.area]
    for reach in plant.file.path:
        for key, name in (("from", reach.source), ("to", reach.to)):
            if name not in areas:
                remedy = f"use one of {', '.join(areas)}"
                yield Fault("config/plant.toml", None, f"path.{key}", f"no area {name!r}", remedy)
    for late in plant.file.dead_time:
        if complete and late.tag not in plant.tags:
            remedy = "use a tag of config/tags.csv"
            yield Fault("config/plant.toml", None, "dead_time.tag", f"no tag {late.tag!r}", remedy)


def _plant_links(plant: Plant, checks: Collection[str], complete: bool) -> list[Fault]:
    file = "config/plant.toml"
    faults: list[Fault] = []
    for state in plant.file.state:
        if complete:
            faults += _names_known(plant, file, None, f"state.{state.name}.when", state.when)
    faults += [*_segment_links(plant), *_physics_links(plant)] if complete else ()
    faults += _travel_links(plant, complete)
    for kind in plant.file.checks:
        if checks and kind not in checks:
            remedy = f"use one of {', '.join(sorted(checks))}"
            faults.append(Fault(file, None, f"checks.{kind}", f"no check {kind!r}", remedy))
    return faults
