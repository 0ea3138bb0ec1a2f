"""Vocabulary: what header cells are called and what a written time looks like; common practice, no source.

English, and what recorders set to German, Spanish or French write.
"""

import re
from collections.abc import Sequence
from typing import Literal


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split("|"))


TIME_NAMES = _words(
    "time|timestamp|time stamp|time_stamp|time-stamp|datetime|date time|date/time|date_time|date-time|"
    "date & time|date and time|datetimestamp|datestamp|date/time stamp|date time stamp|"
    "localtime|local time|sample time|ts|utc|epoch|unix time|unixtime|"
    "zeit|zeitstempel|zeitpunkt|datum/zeit|datum/uhrzeit|fecha/hora|fecha y hora|horodatage|date/heure|"
    "date et heure"
)
DATE_NAMES = _words("date|day|datum|fecha")
HOUR_NAMES = _words("hour|hr|hours|hour ending|stunde|hora|heure")
CLOCK_NAMES = _words("time|clock|time of day|uhrzeit|zeit") | HOUR_NAMES
"""What stands beside a date column and holds the clock, or the hour alone."""
YEAR_NAMES = _words("year|yr|yyyy|jahr|año|année")
MONTH_NAMES = _words("month|mon|mo|monat|mes|mois")
DAY_NAMES = _words("day|dd|tag|día|jour")
MINUTE_NAMES = _words("minute|minutes|minuto|minutos")
SECOND_NAMES = _words("second|seconds|sec|sekunde|segundo|segundos|seconde|secondes")
FRACTION_NAMES = _words("millisecond|milliseconds|millitm|ms|msec")
HALF_NAMES = _words("am/pm|ampm|am_pm|am pm|a/p|meridiem")
"""What stands behind a date or a clock and holds more of the time."""
TAG_NAMES = _words(
    "tag|tag name|tagname|tag_name|tag id|tag_id|tagid|point|point name|point id|pointname|signal|channel|"
    "variable|messstelle|kanal|etiqueta|punto|señal|repère|point de mesure|voie"
)
VALUE_NAMES = _words("value|val|reading|tag value|pv|process value|wert|messwert|valor|medida|valeur|mesure")
TEXT_VALUE_NAMES = _words(
    "text|text value|textvalue|value text|string value|stringvalue|value string|digital state|state text"
)
"""What holds a state in words, where the value beside it is blank."""
QUALITY_NAMES = _words(
    "quality|status|quality code|q|qual|qual code|qlty|opc quality|opcquality|quality_code|status code|"
    "statuscode|flag|flags|data flag|qualifier|qualifiers|data qualifier|qc|qc flag|"
    "qualität|calidad|estado|qualité|état"
)
UNIT_NAMES = _words(
    "unit|units|eng units|eng unit|engineering units|engineering unit|eu|uom|einheit|unidad|unidades|unité"
)
TEXT_NAMES = _words(
    "description|desc|descriptor|tag description|name|long name|area|type|data type|source|service|location|"
    "comment|comments|remark|remarks|note|notes|annotation|annotations|operator|user|range|low|high|"
    "bezeichnung|beschreibung|bemerkung|descripción|comentario|libellé|commentaire"
)
OFFSET_NAMES = _words("utc offset|utc_offset|utcoffset|gmt offset")
ZONE_NAMES = _words("zone|time zone|timezone|time_zone|tz") | OFFSET_NAMES
"""What stands beside a time and holds its zone."""
ZONE_KEYS = _words("time zone|timezone|time_zone|tz")
OFFSET_KEYS = _words("utc offset|gmt offset|offset from utc|offset from gmt|time zone offset")
"""What a line above the header may tell of them."""
SCALE_NAMES = _words(
    "multiplier|scale|scale factor|scaling|scaling factor|conversion factor|factor|gain|faktor"
)
"""What stands beside a number by which readings are still to be multiplied."""
COUNT_NAMES = _words("#|no|no.|nr|row|index|id|record|line|n")
"""Columns that only count the lines."""

_IN_BRACKETS = re.compile(r"(.*\S)\s*(?:\(([^()]*)\)|\[([^\[\]]*)\])")
_EXPLAINED_TIME = re.compile(r"(?:date|time|date[-_ /]?time|time[-_ ]?stamp)(?:[^a-z]|$)")
_KIND_OF_TIME = re.compile(
    r"(?:local|utc|gmt|sample|event|record|recorded|reading|system|server|source|plant)[-_ ]"
    r"(?:date[-_ /]?)?time(?:[-_ ]?stamp)?|(?:utc|gmt)(?:date[-_ ]?)?time(?:stamp)?|"
    r"(?:t|date|(?:date[-_ ]?)?time)[-_ ]?stamp|"
    r"(?:(?:date[-_ ]?)?time(?:[-_ ]?stamp)?)[-_ ]?(?:utc|gmt|local)"
)
_TIME_ENDING = re.compile(r"(.*\S?)[-_ .:]+(?:date[-_ /]?time|time[-_ ]?stamp|time|date)", re.IGNORECASE)
_ZONE = re.compile(r"(?:utc|gmt|z|h[sd]t|ak[sd]t|[pmcea][sd]t|[+-]\d\d(?::?\d\d)?)", re.IGNORECASE)
_BEHIND_A_TIME = re.compile(r"\s+(?:[-–:]\s+)?((?:[+-]\d|[A-Za-z]).*)$")
_UNDER_A_TIME = re.compile(
    r"[(\[][^()\[\]]*[A-Za-z][^()\[\]]*[)\]]|(?i:utc|gmt)(?: ?[+-] ?\d{1,2}(?::?\d\d)?)?|"
    r"(?i:[ymdhs]{1,4}(?:[-/.:, t]+[ymdhsap]{1,4})+)|[A-Z]{2,5}"
)
_ORDERS: dict[Literal["month_first", "day_first"], re.Pattern[str]] = {
    "month_first": re.compile(r"\bmm?[-/.]dd?[-/.]yy", re.IGNORECASE),
    "day_first": re.compile(r"\bdd?[-/.]mm?[-/.]yy", re.IGNORECASE),
}
_RULE = re.compile(r"[-=_+|\s]+")

_LETTERS = r"[^\W\d_]"
_WRITTEN_DATE = (
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})(?!\d)|"
    rf"\d{{1,2}}(?:[-/ ]|\. ?| de ){_LETTERS}{{3,10}}\.?(?:[-/, ]+| de )\d{{2,4}}|"
    r"\d{4}-[a-z]{3,9}-\d{1,2}|"
    rf"{_LETTERS}{{3,9}}\.? \d{{1,2}},? \d{{4}}|\d{{1,2}}[a-z]{{3}}\d{{2}}(?:\d\d)?(?=[: ])|"
    r"(?:19|20)\d{6}(?!\d)|(?:19|20)\d\d[-/][0-3]\d\d(?!\d)|\d{4}_\d\d_\d\d(?=[ _t])"
)
_CLOCK_BEFORE = r"\d{1,2}:\d\d(?::\d\d(?:[.,]\d+)?)?(?: ?[ap]\.?m\.?)?,? "
_DATE = re.compile(
    rf"(?:{_LETTERS}{{2,10}}[.,]{{0,2}} |{_CLOCK_BEFORE})?(?:{_WRITTEN_DATE})(?:$|[t ,:_\-z])", re.IGNORECASE
)
_NUMBER = re.compile(r"[+-]?(?:[.,]?\d[\d.,]*(?:e[+-]?\d+)?|nan)", re.IGNORECASE)
_NUMBER_AS_TIME = re.compile(r"[2-7]\d{4}(?:[.,]\d+)?|\d{9,10}(?:[.,]\d+)?|\d{12,14}|\d{16}|\d{19}")


def without_brackets(cell: str) -> tuple[str, str]:
    """Split ``Flow (L/s)`` or ``Flow [L/s]`` into name and what stands in brackets; blank where none do."""
    match = _IN_BRACKETS.fullmatch(cell.strip())
    return (match[1], (match[2] or match[3] or "").strip()) if match else (cell.strip(), "")


def explanation(cell: str) -> str:
    """Return what explains a time: ``EST`` of ``Time (EST)``, ``Time - EST``, ``Time EST``; else blank."""
    bare, inside = without_brackets(cell)
    behind = _BEHIND_A_TIME.search(bare)
    return inside or (behind[1] if behind and names_a_time(bare[: behind.start()]) else "")


def called(cell: str) -> str:
    """Return a header cell in lower case, without what explains it in brackets."""
    return without_brackets(cell)[0].lower()


def names_a_time(cell: str) -> bool:
    """Whether a header cell is called like a time or a date."""
    name = called(cell)
    return name in TIME_NAMES or name in DATE_NAMES or _KIND_OF_TIME.fullmatch(name) is not None


def names_a_zone(cell: str) -> bool:
    """Whether a cell is written like a zone: UTC, MST, -07:00."""
    return _ZONE.fullmatch(cell) is not None


def explains_a_time(cell: str) -> bool:
    """Whether a cell begins like a time and explains itself: "Date-time CET (DD/MM/YYYY HH:mm)"."""
    return names_a_time(cell) or _EXPLAINED_TIME.match(cell.lower()) is not None


def owner_of_time(cell: str) -> str | None:
    """Return ``AIT-1`` for ``AIT-1 Time``: the tag whose own time a column holds; None where it is none."""
    match = _TIME_ENDING.fullmatch(without_brackets(cell)[0])
    return match[1].rstrip("-_ .:") or None if match and not names_a_time(cell) else None


def is_label(cell: str) -> bool:
    """Whether a cell says what its row of the header holds (tag, description, unit …), or says nothing."""
    name = called(cell).rstrip(": ")
    return not name or name in TAG_NAMES | UNIT_NAMES | TEXT_NAMES or names_a_time(name)


def explains_times(cell: str) -> bool:
    """Whether a cell under a time's name explains it: ``(CST)``, ``UTC-6``, ``mm/dd/yyyy hh:mm``, ``TS``."""
    return _UNDER_A_TIME.fullmatch(cell) is not None


def is_rule(cells: tuple[str, ...]) -> bool:
    """Whether a row only draws a line under the header."""
    return all(_RULE.fullmatch(cell) for cell in cells if cell) and any(len(cell) > 1 for cell in cells)


def has_date(cell: str) -> bool:
    """Whether a cell is written like a date, with a clock or without."""
    return _DATE.match(cell) is not None


def is_number(cell: str) -> bool:
    """Whether a cell is a number, with either decimal mark, or what is written for none."""
    return _NUMBER.fullmatch(cell) is not None


def may_be_time(cell: str) -> bool:
    """Whether a cell can be a time: a date, or a number such as seconds since 1970 or a serial day."""
    return has_date(cell) or _NUMBER_AS_TIME.fullmatch(cell) is not None


def order_spelled(names: Sequence[str]) -> Literal["month_first", "day_first"] | None:
    """Return the order of day and month that names of times spell out: ``Date (DD/MM/YYYY)``; else None."""
    return next((order for order, form in _ORDERS.items() if any(map(form.search, names))), None)
