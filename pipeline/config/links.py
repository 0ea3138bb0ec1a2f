"""Links: what one part of a config says of another; what fell out for its own fault is not missed as well."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from pipeline.config.expressions import parse
from pipeline.config.instruments import Instrument
from pipeline.config.limits import Limit
from pipeline.config.plant import PlantRead
from pipeline.config.rows import Table
from pipeline.config.tags import Tag
from pipeline.errors import Fault
from pipeline.units import conversion

_PLANT, _TAGS, _INSTRUMENTS, _LIMITS = (
    f"config/{name}" for name in ("plant.toml", "tags.csv", "instruments.csv", "limits.csv")
)
_USE_A_TAG = "use a tag of config/tags.csv"


@dataclass(frozen=True)
class Links:
    """The parts of a config beside each other.

    Parameters
    ----------
    plant, tags, instruments, limits : PlantRead, Table
        As read; `limits` as the rows say it.
    filled : list of Limit
        The sound rows of limits.csv with their clauses.
    statistics, checks
        As in `pipeline.config.load.load`.
    """

    plant: PlantRead
    tags: Table[Tag]
    instruments: Table[Instrument]
    limits: Table[Limit]
    filled: list[Limit]
    statistics: Mapping[str, Collection[str]]
    checks: Collection[str]

    def faults(self) -> Iterator[Fault]:
        """Yield every fault."""
        yield from self._of_tags()
        yield from self._export_names()
        yield from self._of_limits()
        yield from self._needs_of_limits()
        yield from self._guards()
        yield from self._names_stand_once()
        yield from self._states()
        yield from self._segments()
        yield from self._physics()
        yield from self._travel()
        yield from self._kinds()

    def _of_tags(self) -> Iterator[Fault]:
        for tag in self.tags.every:
            here = (_TAGS, tag.row)
            if self.plant.areas.lack(tag.area):
                yield Fault(*here, "area", f"no area {tag.area!r}", self._use_an_area())
            if self.instruments.named.lack(tag.instrument):
                remedy = "add it to config/instruments.csv or correct the name"
                yield Fault(*here, "instrument", f"no instrument {tag.instrument!r}", remedy)
            if self.tags.named.lack(tag.twin) or (tag.twin and tag.twin == tag.tag):
                problem = "a tag is no twin of its own" if tag.twin == tag.tag else f"no tag {tag.twin!r}"
                yield Fault(*here, "twin", problem, "name another tag, or leave it blank")
            yield from self._names_known(*here, "valid_when", tag.valid_when)

    def _use_an_area(self) -> str:
        return f"use one of {', '.join(self.plant.areas.held)}"

    def _export_names(self) -> Iterator[Fault]:
        exports: dict[str, str] = {}
        for tag in sorted(self.tags.every, key=lambda one: one.row):
            name = tag.name_in_export
            if exports.get(name, tag.tag) != tag.tag:
                problem = f"{name!r} is also the export name of {exports[name]}"
                yield Fault(_TAGS, tag.row, "export_name", problem, "give each tag its own")
            exports |= {name: tag.tag} if name else {}
        for tag in self.tags.rows:
            try:
                tag.conversion()
            except ValueError as error:
                yield Fault(_TAGS, tag.row, "export_unit", str(error), "use units of the same kind")

    def _names_known(self, file: str, row: int | None, column: str, text: str) -> Iterator[Fault]:
        try:
            names = parse(text).names if text else ()
        except ValueError:
            return  # Told where the row is read.
        for name in names:
            if self.tags.named.lack(name) and self.plant.states.lack(name):
                remedy = "use a tag of config/tags.csv or a state of config/plant.toml"
                yield Fault(file, row, column, f"no tag or state {name!r}", remedy)

    def _of_limits(self) -> Iterator[Fault]:
        units = {tag.tag: tag.unit for tag in self.tags.rows}
        for limit in self.limits.every:
            for column, name in (("tag", limit.tag), ("second_tag", limit.second_tag)):
                if self.tags.named.lack(name):
                    yield Fault(_LIMITS, limit.row, column, f"no tag {name!r}", _USE_A_TAG)
        for limit in self.filled:
            unit = units.get(limit.tag, limit.unit)
            if limit.unit not in ("", unit) and not limit.second_tag:
                problem = f"{limit.unit!r} is not the unit of {limit.tag} ({unit})"
                yield Fault(_LIMITS, limit.row, "unit", problem, "write the limit in the tag's unit")

    def _needs_of_limits(self) -> Iterator[Fault]:
        for limit in [*self.filled, *self.limits.broken]:
            if self.statistics and limit.statistic not in self.statistics:
                problem = f"no statistic {limit.statistic!r}"
                remedy = f"use one of {', '.join(sorted(self.statistics))}"
                yield Fault(_LIMITS, limit.row, "statistic", problem, remedy)
        for limit in self.filled:
            for column in self.statistics.get(limit.statistic, ()):
                if getattr(limit, column) in (None, ""):
                    problem = f"{limit.statistic} takes it, and the cell is blank"
                    yield Fault(_LIMITS, limit.row, column, problem, "fill it in; see README.md")

    def _guards(self) -> Iterator[Fault]:
        """Name what instruments say they guard and is no limit; it would weigh nothing in their rank."""
        for instrument in self.instruments.every:
            for limit_id in instrument.guarded:
                if self.limits.named.lack(limit_id):
                    problem, remedy = (
                        f"no limit {limit_id!r}",
                        "use a limit_id of config/limits.csv, parted by |",
                    )
                    yield Fault(_INSTRUMENTS, instrument.row, "guards", problem, remedy)

    def _names_stand_once(self) -> Iterator[Fault]:
        file = self.plant.file
        for key, names in (
            ("area", [one.id for one in file.area]),
            ("state", [one.name for one in file.state]),
        ):
            for name in sorted({name for name in names if names.count(name) > 1}):
                yield Fault(_PLANT, None, key, f"{name!r} stands more than once", "keep one of them")

    def _states(self) -> Iterator[Fault]:
        for state in self.plant.file.state:
            yield from self._names_known(_PLANT, None, f"state.{state.name}.when", state.when)

    def _segments(self) -> Iterator[Fault]:
        for segment in self.plant.file.disinfection_segment:
            for what, (name, unit) in segment.units.items():
                yield from self._measured_in(f"disinfection_segment.{segment.name}.{what}", name, unit)

    def _measured_in(self, where: str, name: str, unit: str) -> Iterator[Fault]:
        if self.tags.named.lack(name):
            yield Fault(_PLANT, None, where, f"no tag {name!r}", _USE_A_TAG)
        for tag in self.tags.rows:
            if tag.tag == name:
                try:
                    conversion(tag.unit, unit)
                except ValueError as error:
                    remedy = f"name a tag that is measured in {unit} or alike"
                    yield Fault(_PLANT, None, where, str(error), remedy)

    def _physics(self) -> Iterator[Fault]:
        physics = self.plant.file.physics
        for key, tables in physics:
            for number, table in enumerate(tables, start=1):
                for what, (name, unit) in table.units.items():
                    yield from self._measured_in(f"physics.{key} {number}: {what}", name, unit)
        for number, one in enumerate(physics.running, start=1):
            yield from self._names_known(_PLANT, None, f"physics.running {number}: when", one.when)
        for number, pace in enumerate(physics.feed_pace, start=1):
            if self.tags.named.lack(pace.analyser):
                where = f"physics.feed_pace {number}: analyser"
                yield Fault(_PLANT, None, where, f"no tag {pace.analyser!r}", _USE_A_TAG)

    def _travel(self) -> Iterator[Fault]:
        for reach in self.plant.file.path:
            for key, name in (("from", reach.source), ("to", reach.to)):
                if self.plant.areas.lack(name):
                    yield Fault(_PLANT, None, f"path.{key}", f"no area {name!r}", self._use_an_area())
        for late in self.plant.file.dead_time:
            if self.tags.named.lack(late.tag):
                yield Fault(_PLANT, None, "dead_time.tag", f"no tag {late.tag!r}", _USE_A_TAG)

    def _kinds(self) -> Iterator[Fault]:
        for kind in self.plant.file.checks:
            if self.checks and kind not in self.checks:
                remedy = f"use one of {', '.join(sorted(self.checks))}"
                yield Fault(_PLANT, None, f"checks.{kind}", f"no check {kind!r}", remedy)
