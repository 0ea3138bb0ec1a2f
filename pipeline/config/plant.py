"""Plant: plant.toml, the plant's name, clock, areas, folders and operating states."""

import codecs
import re
import tomllib
from collections.abc import Collection, Iterable
from copy import deepcopy
from dataclasses import dataclass
from datetime import date
from functools import reduce
from operator import getitem
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, field_validator

from pipeline.clock import zone_of
from pipeline.config.disinfection import Segment
from pipeline.config.expressions import parse
from pipeline.config.lines import Path as Where
from pipeline.config.lines import key_lines, toml_fault
from pipeline.config.mail import Mail
from pipeline.config.physics import Physics
from pipeline.config.plainly import plainly
from pipeline.config.rows import Names
from pipeline.config.schedule import Schedule, Weekday
from pipeline.config.travel import DeadTime, Reach
from pipeline.errors import Fault


def _known_zone(name: str) -> str:
    zone_of(name)
    return name


Zone = Annotated[str, AfterValidator(_known_zone)]
"""What `zone_of` knows."""


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Exports(_Section):
    """Folders the plant's files arrive in, relative to the plant folder."""

    trends: str = "sample_exports/trends"
    lab: str = "sample_exports/lab"
    logbook: str = "sample_exports/logbook"


class Area(_Section):
    """One part of the plant."""

    id: str
    name: str
    plant: Literal["water", "wastewater"]

    @field_validator("id")
    @classmethod
    def _short(cls, text: str) -> str:
        if not re.fullmatch(r"[a-z0-9][a-z0-9_-]*", text):
            raise ValueError("not a short name; write small letters a to z, digits, - and _, such as lift_2")
        return text


class State(_Section):
    """An operating state: true while `when` holds and has held for `settle_minutes`."""

    name: str
    when: str
    settle_minutes: float = Field(default=0.0, ge=0)

    @field_validator("name")
    @classmethod
    def _one_word(cls, text: str) -> str:
        if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", text):
            raise ValueError(
                "not one word; begin with a letter, then letters, digits and _, such as filter_2_on"
            )
        return text

    @field_validator("when")
    @classmethod
    def _sound(cls, text: str) -> str:
        parse(text)
        return text


class Reading(_Section):
    """How the exports are written where they do not say so themselves, and what in them is not ours.

    `decimal_mark` blank means that each file is to tell. `quality_codes` says which OPC codes they hold: 0 is
    bad in the classic ones and good in those of OPC UA. `time_zone` is that of their times, if not the
    plant's clock. Before `not_before` there was no plant.
    `ignore_columns` are names, or shell patterns of names (``F_*``), of columns that hold no reading:
    flags, station codes, remarks. They are left out before anything is counted.
    """

    date_order: Literal["month_first", "day_first"] | None = None
    decimal_mark: Literal[".", ","] | None = None
    encoding: str = "cp1252"
    time_zone: Zone | None = None
    quality_codes: Literal["classic", "ua"] | None = None
    not_before: date | None = None
    ignore_columns: tuple[str, ...] = ()

    @field_validator("encoding")
    @classmethod
    def _known_encoding(cls, name: str) -> str:
        try:
            codecs.lookup(name)
        except LookupError:
            raise ValueError(
                "not an encoding we know; write for instance cp1252, cp1251 or shift_jis"
            ) from None
        return name


class PlantFile(_Section):
    """plant.toml as a whole."""

    name: str
    time_zone: Zone
    week_starts: Weekday = "monday"
    exports: Exports = Exports()
    area: tuple[Area, ...]
    state: tuple[State, ...] = ()
    reading: Reading = Reading()
    mail: Mail | None = None
    schedule: Schedule = Schedule()
    checks: dict[str, dict[str, Any]] = Field(default_factory=dict)
    disinfection_segment: tuple[Segment, ...] = ()
    physics: Physics = Physics()
    path: tuple[Reach, ...] = ()
    dead_time: tuple[DeadTime, ...] = ()

    @field_validator("area")
    @classmethod
    def _some_area(cls, areas: tuple[Area, ...]) -> tuple[Area, ...]:
        # A least length on the field itself would be reported beside the real fault of a single area.
        if not areas:
            raise ValueError("the plant has no area; add an [[area]] with id, name and plant")
        return areas


_STAND_IN = {"name": "?", "time_zone": "UTC", "area": [{"id": "none", "name": "?", "plant": "water"}]}
"""What must stand in the file, where the plant's own cannot be read."""


@dataclass(frozen=True)
class PlantRead:
    """plant.toml as read: its sound part, what is wrong with it, and what areas and states it names."""

    file: PlantFile
    faults: list[Fault]
    areas: Names
    states: Names


def read_plant(path: Path) -> PlantRead:
    """Read plant.toml, with every fault and its line."""
    file = f"config/{path.name}"
    try:
        text = path.read_text(encoding="utf-8-sig")
        content = tomllib.loads(text)
    except FileNotFoundError:
        remedy = "name the plant's folder with --plant DIR, or make one with `stillwell demo DIR`"
        return _unread(Fault(file, None, None, f"there is no {path}", remedy))
    except UnicodeDecodeError:
        return _unread(Fault(file, None, None, "not UTF-8 text", "save it as UTF-8"))
    except tomllib.TOMLDecodeError as error:
        return _unread(Fault(file, _line_of(error), None, f"not TOML: {error}", "correct that line"))
    try:
        plant, problems = PlantFile.model_validate(content), []
    except ValidationError as error:
        problems = error.errors()
        plant = _sound_part(content, [problem["loc"] for problem in problems])
    lines = key_lines(text) if problems else {}
    faults = [_fault(file, lines, dict(problem)) for problem in problems]
    wrong = {problem["loc"] for problem in problems}
    areas, states = _names(content, wrong, "area", "id"), _names(content, wrong, "state", "name")
    return PlantRead(plant, faults, areas, states)


def _unread(fault: Fault) -> PlantRead:
    nothing = Names(whole=False)
    return PlantRead(PlantFile.model_validate(_STAND_IN), [fault], nothing, nothing)


def _names(content: dict[str, Any], wrong: Collection[Where], table: str, key: str) -> Names:
    """Return what the elements of an array of tables are called, whatever else is wrong with them.

    One whose very name is wrong may be meant by any name.
    """
    tables = content.get(table, [])
    if not isinstance(tables, list) or (table,) in wrong:
        return Names(whole=False)
    sound = [one for n, one in enumerate(tables) if not {(table, n), (table, n, key)} & set(wrong)]
    return Names([one[key] for one in sound], len(sound) == len(tables))


def _sound_part(content: dict[str, Any], wrong: Iterable[Where]) -> PlantFile:
    """Return the file without the elements and sections at fault, so that the rest of it can be checked."""
    left: Any = deepcopy(content)
    # The last first: what is taken out of an array moves what follows it.
    last: Any
    for *way, last in sorted({_section_of(path) for path in wrong}, key=_place, reverse=True):
        holder: Any = reduce(getitem, way, left)
        if last in holder or isinstance(holder, list):
            del holder[last]
    if not left.get("area"):
        left.pop("area", None)
    return PlantFile.model_validate(_STAND_IN | left)


def _place(path: Where) -> int:
    return path[-1] if isinstance(path[-1], int) else -1


def _section_of(path: Where) -> Where:
    """Return the element of an array that a path leads into; without one, the path.

    Of what must be given together nothing is left.
    """
    if path[0] == "mail":
        return path[:1]
    numbers = (place for place, step in enumerate(path) if isinstance(step, int))
    return path[: next(numbers, len(path)) + 1]


def _line_of(error: tomllib.TOMLDecodeError) -> int | None:
    words = str(error).rpartition("at line ")[2].split(",")[0]
    return int(words) if words.isdigit() else None


def _fault(file: str, lines: dict[Where, int], problem: dict[str, Any]) -> Fault:
    path = tuple(problem["loc"])
    if problem["type"] == "missing":
        return toml_fault(file, lines, path, "the key is missing", "add it")
    if problem["type"] == "extra_forbidden":
        return toml_fault(file, lines, path, "is not a key we know", "remove it or correct its spelling")
    told, remedy = plainly(problem)
    return toml_fault(file, lines, path, told, remedy or "correct it")
