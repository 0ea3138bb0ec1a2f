"""Channels: a name in the export, with the unit it gives, becomes a tag and a straight line to its unit."""

from dataclasses import dataclass, field
from functools import cache

import polars as pl

from pipeline.config.load import Plant
from pipeline.config.tags import Tag
from pipeline.ingest.vocabulary import without_brackets
from pipeline.units import TRADE_WRITINGS, conversion, is_known, is_of_the_trade, spelling

UNKNOWN_TAG = "unknown tag"
"""How the reason begins where no tag has the name."""

_NO_UNIT = frozenset(["", "-", "--", "none", "n/a", "na", "null", "unitless", "dimensionless"])
_WORDS_AS_WELL = frozenset(["in", "min"])
"""Units that may be a word in brackets: an inlet, a minimum."""


@dataclass(frozen=True)
class Channel:
    """What a name in the export stands for.

    Parameters
    ----------
    tag : Tag or None
        None where the plant has no such tag.
    factor, offset : float
        ``value = number * factor + offset``, from what the export holds to the tag's unit.
    reason : str or None
        Why its readings are refused; None where they are not.
    unit : str
        What the export says its numbers are in; blank where it does not.
    """

    tag: Tag | None
    factor: float = 1.0
    offset: float = 0.0
    reason: str | None = None
    unit: str = field(default="", compare=False)

    @property
    def converts(self) -> bool:
        """Whether the number in the export is not the one we keep."""
        return (self.factor, self.offset) != (1.0, 0.0)


class Channels:
    """The channels of one export, numbered in the order in which they are met.

    Parameters
    ----------
    names : dict of str to Tag
        The plant's tags by name in the export.
    """

    def __init__(self, names: dict[str, Tag]) -> None:
        self._names = names
        self._numbers: dict[str, int] = {}
        self.met: list[Channel] = []

    @property
    def tags(self) -> list[Tag]:
        """The tag of each channel in `met`; any tag where it has none, for none of its readings goes on."""
        anyone = next(iter(self._names.values()))
        return [one.tag or anyone for one in self.met]

    @property
    def as_written(self) -> list[Tag]:
        """The same, of which cells that carry a unit are held against what the export says of them all."""
        pairs = zip(self.met, self.tags, strict=True)
        return [tag.model_copy(update={"export_unit": one.unit}) if one.unit else tag for one, tag in pairs]

    def place(self, raw: pl.DataFrame) -> pl.Series:
        """Return the number of each row's channel (its place in `met`), from `tag` and, if there, `unit`."""
        key = raw["tag"]
        if "unit" in raw.columns:
            unit = pl.col("unit").fill_null("")
            key = raw.select(pl.concat_str(pl.col("tag").cast(pl.String), unit, separator="\0")).to_series()
        found = self._found(key)
        if found.has_nulls():
            for text in key.filter(found.is_null()).cast(pl.String).unique(maintain_order=True).drop_nulls():
                name, _, unit = text.partition("\0")
                self._numbers[text] = len(self.met)
                self.met.append(channel(name, unit, self._names))
            found = self._found(key)
        return found.alias("place")

    def _found(self, key: pl.Series) -> pl.Series:
        return key.cast(pl.Enum(list(self._numbers)), strict=False).to_physical().cast(pl.UInt32)


def export_names(plant: Plant) -> dict[str, Tag]:
    """Return the plant's tags by their name in the export, and by their own name where that is free."""
    by_export = {tag.name_in_export: tag for tag in plant.tags.values()}
    by_tag = {tag.tag: tag for tag in plant.tags.values() if tag.tag not in by_export}
    return by_export | by_tag


def channel(name: str, unit: str | None, names: dict[str, Tag]) -> Channel:
    """Say which tag a name in the export is, and how its numbers become the tag's.

    A unit that the export gives holds where ``export_unit`` of tags.csv is blank; where both are there
    they must agree.

    Parameters
    ----------
    name : str
        As in the export; ``Flow (L/s)`` carries a unit.
    unit : str or None
        What a unit row or column says of it; None or blank where there is none.
    names : dict of str to Tag
        The plant's tags by name in the export.
    """
    base, in_brackets = without_brackets(name)
    tag = names.get(name)
    if tag is not None:
        # A name that tags.csv spells out may hold brackets that are no unit, such as "Blower (A)".
        is_unit = _fits(in_brackets, tag) or (_is_surely_a_unit(in_brackets) and not tag.export_unit)
        named = in_brackets if is_unit else ""
        return _converted(tag, unit or named)
    tag = names.get(base) if in_brackets else None
    if tag is None:
        remedy = "add it to config/tags.csv (as tag or export_name) or leave it out of the export"
        return Channel(None, reason=f"{UNKNOWN_TAG} '{name}'; {remedy}")
    return _converted(tag, unit or in_brackets)


def unit_of(text: str) -> str | None:
    """Return our spelling of a unit as the export writes it; blank for none, None where it is unknown."""
    word = text.strip().strip("()[]").strip()
    if word.lower() in _NO_UNIT:
        return ""
    return TRADE_WRITINGS.get(word.lower()) or (spelling(word) if _is_known(word) else None)


@cache
def _is_known(unit: str) -> bool:
    return is_known(unit)


def _converted(tag: Tag, text: str) -> Channel:
    said = unit_of(text) if text and not tag.is_state else ""
    if said == "" or (said is None and tag.export_unit):
        return Channel(tag, *tag.conversion())
    where = f"of {tag.tag} in config/tags.csv"
    if said is None:
        problem = f"the export gives the unit {text!r}, which we do not know"
        return Channel(tag, reason=f"{problem}; write what it stands for as export_unit {where}")
    if tag.export_unit and _line(said, tag.export_unit) != (1.0, 0.0):
        problem = f"the export gives the unit {said}, and export_unit {where} says {tag.export_unit}"
        return Channel(tag, reason=f"{problem}; correct the one that is wrong")
    line = _line(said, tag.unit)
    if line is None:
        problem = f"the export gives the unit {said}, which does not convert to {tag.unit}, the unit {where}"
        return Channel(tag, reason=f"{problem}; correct the one that is wrong")
    return Channel(tag, *line, unit=said)


def _fits(text: str, tag: Tag) -> bool:
    said = unit_of(text) if text else None
    return bool(said) and _line(str(said), tag.unit) is not None


def _is_surely_a_unit(text: str) -> bool:
    """Whether what stands in brackets can hardly be anything but a unit, whatever the tag's is."""
    said = unit_of(text) or ""
    is_long = len(text) > 1 or said == "%"
    return is_long and text.lower() not in _WORDS_AS_WELL and bool(said) and is_of_the_trade(said)


def _line(source: str, target: str) -> tuple[float, float] | None:
    # "pH" and "1" are the same to everyone but a unit library.
    if {source, target} == {"pH", "1"}:
        return 1.0, 0.0
    try:
        return conversion(source, target)
    except ValueError:
        return None
