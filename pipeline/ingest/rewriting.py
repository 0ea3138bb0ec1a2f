"""Rewriting: rarer ways of writing a stamp, brought to a form we know."""

import re
from collections.abc import Callable
from datetime import date, timedelta

from pipeline.ingest.zones import ZONES

ZONE_BEHIND = re.compile(rf"(?i)\s*\(?\b({'|'.join(ZONES)})\)?$")

_LETTER = r"[^\W\d_]"
WEEKDAY = re.compile(
    r"(?i)^(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*|mo|di|mi|do|fr|sa|so|(?:mon|diens|donners|frei|sams|sonn)tag|"
    r"mittwoch|lun(?:es|di)?|martes|mardi|mi[ée](?:rcoles)?|mer(?:credi)?|jue(?:ves)?|jeu(?:di)?|vie(?:rnes)?|"
    r"ven(?:dredi)?|s[áa]b(?:ado)?|sam(?:edi)?|dom(?:ingo)?|dim(?:anche)?)\.?,?\s+"
)
"""In English, German, Spanish and French; "mar" is no day, for March is written so."""
_MONTHS = {
    "Jan": "januar|jänner|jän|enero|ene|janvier|janv",
    "Feb": "februar|febrero|février|fevrier|févr|fevr|fév",
    "Mar": "märz|maerz|mrz|mär|marzo|mars",
    "Apr": "abril|abr|avril|avr",
    "May": "mai|mayo",
    "Jun": "juni|junio|juin",
    "Jul": "juli|julio|juillet|juil",
    "Aug": "agosto|ago|août|aout",
    "Sep": "sept|septiembre|septembre",
    "Oct": "oktober|okt|octubre|octobre",
    "Nov": "noviembre|novembre",
    "Dec": "dezember|dez|diciembre|dic|décembre|decembre|déc",
}
"""Months in German, Spanish and French, as calendars write and shorten them."""
_ENGLISH = {word: month for month, words in _MONTHS.items() for word in words.split("|")}
_MONTH = re.compile(
    rf"(?i)(?<!{_LETTER})({'|'.join(sorted(_ENGLISH, key=len, reverse=True))})(?!{_LETTER})\.?"
)
_END_OF_DAY = re.compile(r"([ T])24:00((?::00)?(?:[.,]0+)?)(?![\d:.,])")
_ZONE_BEFORE_YEAR = re.compile(rf"(?i) ({'|'.join(ZONES)})(?= \d{{4}}$)")
_ORDINAL = re.compile(r"^(\d{4})[-/](\d{3})(?=[ T]|$)")
"""The year and the day of it (ISO 8601, ordinal date)."""
_CLOCK = r"(\d{1,2}:\d\d(?::\d\d(?:[.,]\d+)?)?(?: ?[apAP]\.?[mM]\.?)?)"
CLOCK_FIRST = re.compile(rf"^{_CLOCK},? ((?:\d{{1,4}}[/.-]|\d{{1,2}} [A-Za-z]).*)$")
_HALF_SAID_TWICE = re.compile(r"(?i)(?<= )(?:(0?0:[\d:.]+) ?am|((?:1[3-9]|2[0-3]):[\d:.]+) ?pm)$")
_OFFSET_BEHIND = re.compile(r"(?<=[\dmM]) ?(?:\s|UTC|GMT)([+-])(\d\d):?(\d\d)$", re.IGNORECASE)
_DAY = r"(\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4})"
_ANY_DAY = rf"({_DAY[1:-1]}|\d{{1,2}}[-/ ][A-Za-z]{{3,9}}[-/ ]\d{{2,4}}|[A-Za-z]{{3,9}} \d{{1,2}},? \d{{4}})"
_PART_OF_DAY = re.compile(_DAY + r" (0?[.,](?:\d{3,}|5|[27]5)|0)$")
"""A date and a part of the day, as spreadsheets keep a clock; 00.15 is a clock, and has two digits."""
_MIDNIGHT = r"(?:0?0:00(?::00)?(?:\.0+)?|12:00(?::00)? am)"
_DAY_OF_A_CLOCK = r"(?:12/30/1899|30[./-]12[./-]1899|1899-12-3[01]|1/0/1900)"
"""The day that a spreadsheet shows before a clock without one."""


def _whole_clock(found: re.Match[str]) -> str:
    """Leave out AM or PM behind a clock of 24 hours, which says as much."""
    return str(found[1] or found[2])


_REWRITTEN: tuple[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    (re.compile(r"\s+"), " "),
    (re.compile(r'^="(\d{4}-[^"]*)"$'), r"\1"),
    (re.compile(r"^'(?=\d{4}-)|(?<=[\dZ])\[[A-Za-z_/]+\]$| Uhr$"), ""),
    (re.compile(r"\b([ap])\.\s?m\.?", re.IGNORECASE), r"\1m"),
    (re.compile(r"(:\d\d),(\d)"), r"\1.\2"),
    (re.compile(r" ?(?:utc|gmt)$", re.IGNORECASE), "Z"),
    (re.compile(rf"^(\d{{1,2}})\. ?(?={_LETTER})"), r"\1 "),
    (re.compile(r" de (?=\d|[A-Z])"), " "),
    (re.compile(rf"^(\d{{1,2}})({_LETTER}{{3}})(\d{{4}}|\d\d)(?=[: ])"), r"\1-\2-\3"),
    (re.compile(r"^(\d{4})_(\d\d)_(\d\d)(?=[ _T])"), r"\1-\2-\3"),
    (re.compile(r"^((?:19|20)\d\d)(\d\d)(\d\d)(?= \d)"), r"\1-\2-\3"),
    (
        re.compile(r"(?<=[ _T]\d\d)_(\d\d)(?:_(\d\d))?$"),
        lambda found: ":".join(("", *filter(None, found.groups()))),
    ),
    (CLOCK_FIRST, r"\2 \1"),
    (re.compile(r"^(\S+) ([ap]m) (\d\d?:[\d:.]+)$", re.IGNORECASE), r"\1 \3 \2"),
    (re.compile(r"(?<=:\d\d) ?([ap])$", re.IGNORECASE), r" \1m"),
    (
        re.compile(r"(?<= )(0?0:[\d:.]+) ?am$|(?<= )((?:1[3-9]|2[0-3]):[\d:.]+) ?pm$", re.IGNORECASE),
        _whole_clock,
    ),
    (re.compile(r"([a-z]{3,9})\.(?=[ -])", re.IGNORECASE), r"\1"),
    (re.compile(rf"^{_DAY} {_MIDNIGHT} (?=\d)", re.IGNORECASE), r"\1 "),
    (re.compile(rf"^{_DAY} {_DAY_OF_A_CLOCK}[ T](?=\d)"), r"\1 "),
    (re.compile(rf"^{_DAY}(?:[-_]|, ?)(?=\d\d?(?::|\.\d\d\.))"), r"\1 "),
    (re.compile(r"(:\d\d:\d\d):(\d{3})$"), r"\1.\2"),
    (re.compile(r"^(\d{4}-\d\d-\d\d)t(?=\d\d:)"), r"\1T"),
    (re.compile(r"(?<=:\d\d)z$|(?<=\.\d\d\d)z$"), "Z"),
    (re.compile(r"(?<=\d\d) ?(?:h|hrs?|hours)\.?$", re.IGNORECASE), ""),
    (re.compile(rf"^{_ANY_DAY} (\d\d?)h(\d\d)$", re.IGNORECASE), r"\1 \2:\3"),
    (re.compile(rf"^{_ANY_DAY} (\d\d)\.?(\d\d)$"), r"\1 \2:\3"),
    (re.compile(rf"^{_ANY_DAY} (\d\d)\.(\d\d)\.(\d\d)(?=$|\.\d)"), r"\1 \2:\3:\4"),
    (re.compile(rf"^{_ANY_DAY} (\d\d?)(\d\d)(\d\d)$"), r"\1 \2:\3:\4"),
    (re.compile(rf"^{_ANY_DAY} (\d)(\d\d)$"), r"\1 \2:\3"),
    (re.compile(r"^([A-Z][a-z]{2}) (\d{1,2}) (\d\d:\d\d:\d\d) (\d{4})$"), r"\1 \2 \4 \3"),
    (re.compile(r"^(\d{1,2}[-/][A-Za-z]{3,9}[-/]\d{2,4}):(?=\d\d:)"), r"\1 "),
)
"""Rarer ways of writing, brought to a form we know."""


def rewritten(text: str) -> tuple[str, timedelta, timedelta | None]:
    """Return a stamp in a form we know, the days it is short of, and the offset its zone says."""
    text, offset = _without_zone(text.strip())
    text = _MONTH.sub(lambda month: _ENGLISH[month[1].lower()], WEEKDAY.sub("", text))
    text = _ORDINAL.sub(_day_of_year, text)
    for pattern, replacement in _REWRITTEN:
        text = pattern.sub(replacement, text)
    text, ends = _END_OF_DAY.subn(r"\g<1>00:00\2", _PART_OF_DAY.sub(_with_clock, text))
    return text, timedelta(days=ends), offset


def _day_of_year(written: re.Match[str]) -> str:
    year, day = int(written[1]), int(written[2])
    found = date(year, 1, 1) + timedelta(days=day - 1)
    return f"{found:%Y-%m-%d}" if found.year == year else written[0]


def _with_clock(written: re.Match[str]) -> str:
    """Return a date and a part of the day as a date and a clock, to the second."""
    seconds = round(float(written[2].replace(",", ".")) * 86_400)
    return f"{written[1]} {seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"


def _without_zone(text: str) -> tuple[str, timedelta | None]:
    """Take off the zone behind a stamp: letters of the United States, or an offset from UTC."""
    if zone := _ZONE_BEFORE_YEAR.search(text):
        return text[: zone.start()] + text[zone.end() :], timedelta(hours=ZONES[zone[1].lower()])
    if zone := ZONE_BEHIND.search(text):
        return text[: zone.start()], timedelta(hours=ZONES[zone[1].lower()])
    if behind := _OFFSET_BEHIND.search(text):
        ahead = timedelta(hours=int(behind[2]), minutes=int(behind[3]))
        return text[: behind.start()], ahead if behind[1] == "+" else -ahead
    return text, None
