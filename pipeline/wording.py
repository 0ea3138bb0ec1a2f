"""Wording: numbers, times and spans as people in the plant write them."""

from datetime import datetime, timedelta, tzinfo

from pipeline.config.tags import Tag

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
AGAINST = {
    "lab grab": "the lab grabs",
    "twin instrument": "its twin",
    "own history": "where its own past lets expect it",
}
"""References that a reading stands above or below, as a sentence names them."""

_UNITS = {
    "1": "",
    "degC": "°C",
    "degF": "°F",
    "ug/L": "µg/L",
    "uS/cm": "µS/cm",
    "m3/h": "m³/h",
    "m3/d": "m³/d",
    "mW/cm2": "mW/cm²",
}


def unit_word(unit: str) -> str:
    """Return a unit as printed: ``degC`` is °C."""
    return _UNITS.get(unit, unit)


def digits(tag: Tag) -> int:
    """Decimals that the tag's resolution warrants."""
    if tag.resolution is None:
        return 2
    places = 0
    while (places < 6 and round(tag.resolution, places) == 0) or tag.resolution < 10**-places:
        places += 1
    return places


def number(tag: Tag, value: float, extra: int = 0, signed: bool = False) -> str:
    """`value` with the tag's decimals and unit."""
    # z: what rounds to nothing has no sign.
    sign = "+" if signed else ""
    text = f"{value:{sign}z.{digits(tag) + extra}f}".replace("-", "\N{MINUS SIGN}")
    unit = "" if tag.unit in ("1", "pH") else f" {unit_word(tag.unit)}"
    return f"pH {text}" if tag.unit == "pH" and not signed and extra == 0 else f"{text}{unit}"


def difference(tag: Tag, value: float) -> str:
    """`value` as the difference of two readings: with the tag's decimals and unit, but none of pH is a pH."""
    return f"{value:.2f}" if tag.unit == "pH" else number(tag, value)


def scatter(tag: Tag, working: float) -> str:
    """Scatter on the working scale: a share of the reading for flows and turbidities, else an amount."""
    return f"{100 * working:.2g} %" if tag.is_log_scaled else number(tag, working, extra=1).replace("pH ", "")


def span(length: timedelta) -> str:
    """Length of time in the two units a person would use: ``3 h 30 min``, ``2 d 4 h``."""
    minutes = round(length / timedelta(minutes=1))
    if minutes >= 1440:
        minutes = 60 * round(minutes / 60)
    days, rest = divmod(minutes, 1440)
    hours, minutes = divmod(rest, 60)
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    return f"{minutes} min"


def day_text(instant: datetime, zone: tzinfo) -> str:
    """Local day as ``12 Oct 2026``."""
    local = instant.astimezone(zone)
    return f"{local.day} {MONTHS[local.month - 1]} {local.year}"


def moment(instant: datetime, zone: tzinfo) -> str:
    """Local time as ``Thu 12 Nov 14:15``."""
    local = instant.astimezone(zone)
    return f"{DAYS[local.weekday()]} {local.day} {MONTHS[local.month - 1]} {local:%H:%M}"
