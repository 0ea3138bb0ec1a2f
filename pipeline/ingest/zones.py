"""Zones: which zone an export says that its times are in."""

import re
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta, timezone, tzinfo

import polars as pl

from pipeline.clock import zone_of
from pipeline.errors import RefusedError
from pipeline.ingest.vocabulary import explanation

ZONES = {"hst": -10, "akst": -9, "akdt": -8, "pst": -8, "pdt": -7, "mst": -7, "mdt": -6}
ZONES |= {"cst": -6, "cdt": -5, "est": -5, "edt": -4, "ast": -4, "adt": -3}
"""Hours of the zones of the United States, standard and advanced (15 U.S.C. 260a, 261, 263)."""
_ELSEWHERE = re.compile(
    r"(?:we|ce|ee)s?t|mes?z|bst|msk|sast|sgt|hkt|jst|kst|a[ec][sd]t|awst|nz[sd]t|brt|art|clt"
)
"""Letters of zones of which some stand for several: common practice, no source."""
_REGIONS = {"hawaii": -10, "hawaiian": -10, "alaska": -9, "alaskan": -9, "pacific": -8, "mountain": -7}
_REGIONS |= {"central": -6, "eastern": -5, "atlantic": -4}
_REGIONS |= {"ht": -10, "akt": -9, "pt": -8, "mt": -7, "ct": -6, "et": -5}
"""Hours of the standard time of the same zones, by their names and by the letters of both seasons."""
_REGION = re.compile(
    rf"(?:\(?utc[^)]*\) *)?(?:us )?({'|'.join(_REGIONS)})(?: (?:standard|daylight))?(?: time)?(?: \(.*\))?"
)
_BOTH_SEASONS = re.compile(rf"({'|'.join(ZONES)})/({'|'.join(ZONES)})")
_CLOCK_OF_ALL = re.compile(r".*\b(?:standard|daylight|summer) time")
_UTC = re.compile(
    r"(?:(?<![a-z/])|(?<=time)|(?<=date)|(?<=stamp))(?:utc|gmt)"
    r"(?:\s*([+-])(\d{1,2})(?::?(\d\d))?)?(?:(?=date|time|stamp)|(?![\d:a-z+-]))",
    re.IGNORECASE,
)
_TIMES_IN_UTC = re.compile(
    r"(?:\btime(?:s|stamps?)?\b\D*|^\W*)\b((?:utc|gmt)(?: *[+-] *\d{1,2}(?::?\d\d)?)?)\W*$", re.IGNORECASE
)
"""A line above the header such as "All times in UTC"; not one that says when something was."""
_TIMES_IN = re.compile(
    rf"\btimes?(?:stamps?)?\b\D*?\b(?:in|are|is|:)\W*((?:us )?(?:{'|'.join(_REGIONS)})"
    rf"(?: (?:standard|daylight))?(?: time)?|{'|'.join(ZONES)})\W*$",
    re.IGNORECASE,
)
"""A line above the header such as "All times are in Central time"."""
_IANA = re.compile(r"\b[A-Z][A-Za-z]+/[A-Z][\w+-]*(?:/[A-Z]\w+)?")
_ZULU = ("z", "zulu")
_STANDARD = re.compile(
    r"\b(?:no|without|not (?:adjusted|corrected) for) (?:daylight|dst\b|summer time)|"
    r"\btimes? .*\b(?:are|is|in) (?:local )?standard time|\bstandard time (?:all year|only)",
    re.IGNORECASE,
)
"""A line above the header such as "All times are standard time"."""
_OFFSET = re.compile(r"(?:utc|gmt)? *([+-]) *(\d{1,2})(?::?(\d\d))?(?: *h(?:r|rs|our|ours)?)?", re.IGNORECASE)
_FARTHEST = timedelta(hours=14)


def zone_written(text: str) -> tzinfo | None:
    """Return the zone that a line names: as IANA does, or in hours from UTC; None for letters and words."""
    if text.lower() in ZONES:
        return None
    if text.lower() in _ZULU:
        return UTC
    if offset := _OFFSET.fullmatch(text.strip()):
        return _fixed(*offset.groups())
    try:
        return zone_of(text)
    except ValueError:
        return None


def zone_said_by(names: Sequence[str], lines: Sequence[str]) -> tzinfo | None:
    """Return the zone that the names of the times or the lines above say in so many words; else None.

    IANA names anywhere; offsets, Zulu and UTC in what explains a time; UTC in a line that speaks of all
    times. Letters alone are left: they may stand for several zones.
    """
    names = [name.replace("\u2212", "-") for name in names]
    named = (zone_written(name) for text in (*names, *lines) for name in _IANA.findall(text))
    told = (text for text in map(explanation, names) if text.lower() in _ZULU or not text.isalpha())
    offsets = (zone_written(text) for text in told if text)
    return next((zone for zone in (*named, *offsets) if zone), None) or utc_of(names, lines)


def times_in(lines: Iterable[str]) -> str | None:
    """Return the letters or words by which a line says what zone all times are in, in lower case."""
    return next((match[1].lower() for line in lines if (match := _TIMES_IN.search(line))), None)


def utc_of(names: Iterable[str], lines: Iterable[str]) -> tzinfo | None:
    """Return UTC, or hours from it, where a time is called so or a line above says so; else None."""
    above = [match[1] for line in lines if (match := _TIMES_IN_UTC.search(line))]
    found = next((match for text in (*names, *above) if (match := _UTC.search(text))), None)
    return _fixed(*found.groups()) if found else None


def standard_of(lines: Iterable[str], plant: tzinfo) -> tzinfo | None:
    """Return the plant's standard time, where a line above says that the recorder keeps it all year."""
    if not any(map(_STANDARD.search, lines)):
        return None
    offsets = [datetime(2026, month, 1, tzinfo=plant).utcoffset() or timedelta() for month in (1, 7)]
    return timezone(min(offsets))


def _fixed(sign: str | None, hours: str | None, minutes: str | None) -> tzinfo | None:
    if not sign:
        return UTC
    ahead = timedelta(hours=int(hours or 0), minutes=int(minutes or 0))
    if ahead > _FARTHEST:
        return None
    return timezone(ahead if sign == "+" else -ahead)


def zone_named(letters: str | None, plant: tzinfo, file: str) -> tzinfo | None:
    """Return the zone that letters or words name; None where there are none, or they are the plant's.

    Parameters
    ----------
    letters : str or None
        In lower case, for instance ``est`` or ``eastern standard time``.
    plant : tzinfo
        Its own letters (``mst`` and ``mdt``) say no more than that the times are its wall clock.
    file : str
        For the error.

    Raises
    ------
    RefusedError
        They are a zone's, and not of the United States, or of another of its regions.
    """
    winter, summer = (datetime(2026, month, 1, tzinfo=plant) for month in (1, 7))
    own = {(moment.tzname() or "").lower() for moment in (winter, summer)}
    if letters is None or letters in own:
        return None
    both = _BOTH_SEASONS.fullmatch(letters)
    if both and set(both.groups()) == own:
        return None
    region = _REGION.fullmatch(letters)
    # Standard time tells the region: a zone's daylight time is the standard time of its neighbour.
    standard = min(moment.utcoffset() or timedelta() for moment in (winter, summer))
    if region and timedelta(hours=_REGIONS[region[1]]) == standard:
        return None
    if region or both or _ELSEWHERE.fullmatch(letters) or _CLOCK_OF_ALL.fullmatch(letters):
        shown = letters.upper() if " " not in letters else letters.title()
        problem = f"its header says that its times are in {shown}, a zone we do not know"
        remedy = "write its name above the header (such as Time zone: UTC), or export in the plant's time"
        raise RefusedError(file, problem, remedy)
    return timezone(timedelta(hours=ZONES[letters])) if letters in ZONES else None


def with_hours(cell: pl.Expr) -> pl.Expr:
    """Return an offset in hours, such as -7, as -07:00; anything else as it stands."""
    hours = cell.str.strip_chars().str.replace(r"^([+-]?)(\d)(?:[.,]0*)?$", "${1}0${2}:00")
    hours = hours.str.replace(r"^([+-]?)(\d\d)(?:[.,]0*)?$", "${1}${2}:00")
    return hours.str.replace(r"^(\d\d:00)$", "+${1}")
