"""Words: numbers, units and times as a tired reader wants them, the same in every locale."""

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from math import ceil, floor, isfinite, log10

from pipeline.config.tags import Tag
from pipeline.wording import DAYS, MONTHS, unit_word

NOTHING = "–"
TIED = "\N{NO-BREAK SPACE}"
"""Between a number and its unit: the two stay on one line."""


def tied(*words: str) -> str:
    """Return words that stay on one line."""
    return TIED.join(word for word in words if word)


def decimals_for(value: float, digits: int) -> int:
    """How many decimals show `digits` significant digits of `value`."""
    return max(0, digits - 1 - floor(log10(abs(value)))) if value else 0


def number(value: float | None, decimals: int) -> str:
    """Return `value` with so many decimals and a true minus sign; a dash for None."""
    if value is None or not isfinite(value):
        return NOTHING
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "−")


@dataclass(frozen=True)
class Scale:
    """How values of one tag are written: its unit and its last meaningful decimal (None = three digits)."""

    unit: str
    decimals: int | None

    def plain(self, value: float | None) -> str:
        """Return the number alone."""
        if value is None or not isfinite(value):
            return NOTHING
        places = self.decimals if self.decimals is not None else min(decimals_for(value, 3), 6)
        return number(value, places)

    def full(self, value: float | None) -> str:
        """Return the number with its unit beside it."""
        return self._beside(self.plain(value)) if value is not None else NOTHING

    def beside(self, value: float | None, edges: tuple[float | None, ...]) -> str:
        """Return the value with its unit and enough decimals not to look like a limit that it is not."""
        if value is None:
            return NOTHING
        for places in range(0, 7):
            text = number(value, places)
            fine = self.decimals is None or places >= self.decimals
            enough = places >= decimals_for(value, 3) or self.decimals is not None
            if fine and enough and not any(edge != value and text == number(edge, places) for edge in edges):
                return self._beside(text)
        return self._beside(number(value, 6))

    def error(self, value: float | None) -> str:
        """Return a signed difference with two digits at least."""
        if value is None or not isfinite(value):
            return NOTHING
        return tied(self.signed(value), unit_word(self.unit))

    def signed(self, value: float) -> str:
        """Return the same without its unit."""
        places = max(self.decimals or 0, min(decimals_for(value, 2), 4))
        sign = "+" if value > 0 and float(f"{value:.{places}f}") else ""
        return f"{sign}{number(value, places)}"

    def _beside(self, text: str) -> str:
        if self.unit == "pH":
            return tied("pH", text)
        return tied(text, unit_word(self.unit))


def scale_of(tag: Tag | None, unit: str = "") -> Scale:
    """Return the scale for values of `tag`; three digits where they stand in another unit than the tag's."""
    own = tag is not None and unit in ("", tag.unit)
    if tag is None or not own or tag.resolution is None:
        return Scale(unit or (tag.unit if tag else ""), None)
    return Scale(tag.unit, max(0, ceil(-log10(tag.resolution) - 1e-9)))


def exact(value: float) -> str:
    """Return a limit or tolerance as somebody wrote it down."""
    return f"{value:.10g}".replace("-", "−")


def percent(share: float, places: int = 0) -> str:
    """Return a share rounded down, so that nearly all is never printed as all."""
    scale = 10**places
    return tied(f"{floor(share * scale + 1e-9) / scale:.{places}f}", "%")


def plural(count: int, one: str, many: str = "") -> str:
    """Return ``1 limit``, ``3 limits``."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def duration(minutes: float | None) -> str:
    """Return minutes as ``45 min``, ``5 h 10 min`` or ``2 d 3 h``."""
    if minutes is None:
        return NOTHING
    if 0 < minutes < 1:
        return f"under {tied('1', 'min')}"
    whole = round(minutes)
    days, hours, rest = whole // 1440, whole % 1440 // 60, whole % 60
    parts = [(days, "d"), (hours, "h"), (0 if days else rest, "min")]
    told = [tied(str(count), unit) for count, unit in parts if count]
    return " ".join(told) or tied("0", "min")


def day_word(day: date, year: bool = False) -> str:
    """Return ``Wed 11 Nov``."""
    text = f"{DAYS[day.weekday()]} {tied(str(day.day), MONTHS[day.month - 1])}"
    return f"{text} {day.year}" if year else text


def clock_word(instant: datetime, zone: tzinfo) -> str:
    """Return ``03:15``; with the zone's letters in the hour that the clocks repeat."""
    local = instant.astimezone(zone)
    twice = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
    return f"{local:%H:%M} {local.tzname()}" if twice else f"{local:%H:%M}"


def moment(instant: datetime, zone: tzinfo) -> str:
    """Return ``Wed 11 Nov 03:15``."""
    return f"{day_word(instant.astimezone(zone).date())} {clock_word(instant, zone)}"


def stretch(start: datetime, end: datetime, zone: tzinfo) -> str:
    """Return ``Wed 11 Nov 02:10–07:10``, or both days where they differ; midnight at the end is 24:00."""
    first, last = start.astimezone(zone), end.astimezone(zone)
    if last.hour == last.minute == 0 and (last.date() - first.date()).days == 1:
        return f"{moment(start, zone)}–24:00"
    if first.date() == last.date():
        return f"{moment(start, zone)}–{clock_word(end, zone)}"
    return f"{moment(start, zone)} – {moment(end, zone)}"


def days_word(start: datetime, end: datetime) -> str:
    """Return the days from one wall-clock midnight up to another: ``Mon 9 Nov – Sun 15 Nov 2026``."""
    first, last = start.date(), (end - timedelta(microseconds=1)).date()
    if first == last:
        return day_word(first, year=True)
    return f"{day_word(first, year=first.year != last.year)} – {day_word(last, year=True)}"


def anchor(text: str) -> str:
    """Return `text` as a name that may stand in an ``id``; different texts stay different."""
    return re.sub(r"[^A-Za-z0-9.-]", lambda found: f"_{ord(found[0]):x}_", text)


def joined(parts: list[str]) -> str:
    """Return ``a, b and c``."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else "".join(parts)


def first_clause(text: str) -> str:
    """Return what stands before the first semicolon or full stop."""
    return re.split(r"[.;]\s", text, maxsplit=1)[0]


def lowered(text: str) -> str:
    """Return `text` begun small, unless it begins with a name such as AIT-131."""
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


def sentence(text: str, capital: bool = True) -> str:
    """Return `text` ended with a full stop and begun with a capital."""
    text = text.strip()
    first = text[:1].upper() if capital else text[:1]
    return first + text[1:] + ("" if text.endswith((".", "?", "!")) or not text else ".")


def allowed(low: float | None, high: float | None, unit: str) -> str:
    """Return what a limit allows in words: ``at most 0.3 NTU``, ``6.5 to 8.5``."""
    if low is None:
        return f"at most {tied(exact(high or 0.0), unit)}"
    if high is None:
        return f"at least {tied(exact(low), unit)}"
    return f"{exact(low)} to {tied(exact(high), unit)}"
