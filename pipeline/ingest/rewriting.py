"""Rewriting: rarer ways of writing a stamp, brought to a form we know."""

import re
from datetime import timedelta

from pipeline.ingest.zones import ZONES

ZONE_BEHIND = re.compile(rf"(?i)\s*\(?\b({'|'.join(ZONES)})\)?$")

WEEKDAY = re.compile(r"(?i)^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+")
_END_OF_DAY = re.compile(r"([ T])24:00((?::00)?(?:[.,]0+)?)(?![\d:.,])")
_OFFSET_BEHIND = re.compile(r"(?<=[\dmM]) ?(?:\s|UTC|GMT)([+-])(\d\d):?(\d\d)$", re.IGNORECASE)
_DAY = r"(\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4})"
_ANY_DAY = rf"({_DAY[1:-1]}|\d{{1,2}}[-/ ][A-Za-z]{{3,9}}[-/ ]\d{{2,4}}|[A-Za-z]{{3,9}} \d{{1,2}},? \d{{4}})"
_PART_OF_DAY = re.compile(_DAY + r" (0?[.,](?:\d{3,}|5|[27]5)|0)$")
"""A date and a part of the day, as spreadsheets keep a clock; 00.15 is a clock, and has two digits."""
_MIDNIGHT = r"(?:0?0:00(?::00)?(?:\.0+)?|12:00(?::00)? am)"
_DAY_OF_A_CLOCK = r"(?:12/30/1899|30[./-]12[./-]1899|1899-12-3[01]|1/0/1900)"
"""The day that a spreadsheet shows before a clock without one."""
_REWRITTEN = (
    (re.compile(r"\s+"), " "),
    (re.compile(r'^="(\d{4}-[^"]*)"$'), r"\1"),
    (re.compile(r"^'(?=\d{4}-)|(?<=[\dZ])\[[A-Za-z_/]+\]$| Uhr$"), ""),
    (re.compile(r"\b([ap])\.\s?m\.?", re.IGNORECASE), r"\1m"),
    (re.compile(r"(:\d\d),(\d)"), r"\1.\2"),
    (re.compile(r" ?(?:utc|gmt)$", re.IGNORECASE), "Z"),
    (re.compile(r"\bsept\b", re.IGNORECASE), "Sep"),
    (re.compile(r"([a-z]{3,9})\.(?=[ -])", re.IGNORECASE), r"\1"),
    (re.compile(rf"^{_DAY} {_MIDNIGHT} (?=\d)", re.IGNORECASE), r"\1 "),
    (re.compile(rf"^{_DAY} {_DAY_OF_A_CLOCK}[ T](?=\d)"), r"\1 "),
    (re.compile(rf"^{_DAY}(?:[-_]|, ?)(?=\d\d?:)"), r"\1 "),
    (re.compile(r"(:\d\d:\d\d):(\d{3})$"), r"\1.\2"),
    (re.compile(r"^(\d{4}-\d\d-\d\d)t(?=\d\d:)"), r"\1T"),
    (re.compile(r"(?<=:\d\d)z$|(?<=\.\d\d\d)z$"), "Z"),
    (re.compile(r"(?<=\d\d) ?(?:h|hrs?|hours)\.?$", re.IGNORECASE), ""),
    (re.compile(rf"^{_ANY_DAY} (\d\d?)h(\d\d)$", re.IGNORECASE), r"\1 \2:\3"),
    (re.compile(rf"^{_ANY_DAY} (\d\d)\.?(\d\d)$"), r"\1 \2:\3"),
    (re.compile(rf"^{_ANY_DAY} (\d\d)\.(\d\d)\.(\d\d)$"), r"\1 \2:\3:\4"),
    (re.compile(rf"^{_ANY_DAY} (\d\d?)(\d\d)(\d\d)$"), r"\1 \2:\3:\4"),
    (re.compile(rf"^{_ANY_DAY} (\d)(\d\d)$"), r"\1 \2:\3"),
    (re.compile(r"^([A-Z][a-z]{2}) (\d{1,2}) (\d\d:\d\d:\d\d) (\d{4})$"), r"\1 \2 \4 \3"),
    (re.compile(r"^(\d{1,2}[-/][A-Za-z]{3,9}[-/]\d{2,4}):(?=\d\d:)"), r"\1 "),
)
"""Rarer ways of writing, brought to a form we know."""


def rewritten(text: str) -> tuple[str, timedelta, timedelta | None]:
    """Return a stamp in a form we know, the days it is short of, and the offset its zone says."""
    text, offset = _without_zone(text.strip())
    text = WEEKDAY.sub("", text)
    for pattern, replacement in _REWRITTEN:
        text = pattern.sub(replacement, text)
    text, ends = _END_OF_DAY.subn(r"\g<1>00:00\2", _PART_OF_DAY.sub(_with_clock, text))
    return text, timedelta(days=ends), offset


def _with_clock(written: re.Match[str]) -> str:
    """Return a date and a part of the day as a date and a clock, to the second."""
    seconds = round(float(written[2].replace(",", ".")) * 86_400)
    return f"{written[1]} {seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"


def _without_zone(text: str) -> tuple[str, timedelta | None]:
    """Take off the zone behind a stamp: letters of the United States, or an offset from UTC."""
    if zone := ZONE_BEHIND.search(text):
        return text[: zone.start()], timedelta(hours=ZONES[zone[1].lower()])
    if behind := _OFFSET_BEHIND.search(text):
        ahead = timedelta(hours=int(behind[2]), minutes=int(behind[3]))
        return text[: behind.start()], ahead if behind[1] == "+" else -ahead
    return text, None
