"""Units: the trade's spellings, and the straight line from one to another."""

from functools import cache
from typing import Any

_SPELLINGS = {
    "1": "dimensionless",
    "": "dimensionless",
    "pH": "dimensionless",
    "NTU": "NTU",
    "mNTU": "milliNTU",
    "mg/L": "milligram / liter",
    "ug/L": "microgram / liter",
    "g/L": "gram / liter",
    "gpm": "gallon / minute",
    "gph": "gallon / hour",
    "gpd": "gallon / day",
    "igpm": "imperial_gallon / minute",
    "MGD": "MGD",
    "MG": "Mgal",
    "Mgal": "Mgal",
    "gal": "gallon",
    "cfs": "foot ** 3 / second",
    "L/s": "liter / second",
    "L/min": "liter / minute",
    "L/h": "liter / hour",
    "mL/min": "milliliter / minute",
    "m3/h": "meter ** 3 / hour",
    "m3/d": "meter ** 3 / day",
    "ML/d": "megaliter / day",
    "ft": "foot",
    "in": "inch",
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "psi": "psi",
    "kPa": "kilopascal",
    "bar": "bar",
    "ftH2O": "foot_H2O",
    "degC": "degC",
    "degF": "degF",
    "mV": "millivolt",
    "uS/cm": "microsiemens / centimeter",
    "mS/cm": "millisiemens / centimeter",
    "%": "percent",
    "mW/cm2": "milliwatt / centimeter ** 2",
    "rpm": "shaft_speed",
    "Hz": "hertz",
    "kW": "kilowatt",
    "A": "ampere",
    "V": "volt",
    "min": "minute",
    "h": "hour",
    "s": "second",
    "lb/d": "pound / day",
    "lb": "pound",
    "kg": "kilogram",
}
_OTHER_WRITINGS = {"µg/L": "ug/L", "µS/cm": "uS/cm", "°C": "degC", "°F": "degF", "FNU": "NTU", "m³/h": "m3/h"}
TRADE_WRITINGS = {
    **dict.fromkeys(["su", "s.u.", "std units", "standard units", "ph units", "ph unit"], "pH"),
    **dict.fromkeys(["deg c", "deg. c", "celsius", "°c", "c"], "degC"),
    **dict.fromkeys(["deg f", "deg. f", "fahrenheit", "°f", "f"], "degF"),
    **dict.fromkeys(["us/cm", "µs/cm", "μs/cm", "umho/cm", "umhos/cm"], "uS/cm"),
    **dict.fromkeys(["ug/l", "µg/l", "μg/l"], "ug/L"),
    **dict.fromkeys(["m³/h", "m3/hr", "m³/hr", "cmh"], "m3/h"),
    **dict.fromkeys(["m³/d", "m3/day", "m³/day", "cmd"], "m3/d"),
    **dict.fromkeys(["gal/min", "us gpm", "usgpm"], "gpm"),
    **dict.fromkeys(["igpm", "imp gpm", "ukgpm"], "igpm"),
    **dict.fromkeys(["mld"], "ML/d"),
    **dict.fromkeys(["mntu"], "mNTU"),
    **dict.fromkeys(["ppm"], "mg/L"),
    **dict.fromkeys(["ppb"], "ug/L"),
    **dict.fromkeys(["fth2o", "ft h2o", "ftwc", "ft wc", "feet of water"], "ftH2O"),
    **dict.fromkeys(["inh2o", "in h2o", "inwc", "in wc", "inches of water"], "inH2O"),
    **{
        unit.lower(): unit
        for unit in ("gpm", "psi", "kPa", "bar", "ft", "cm", "mm", "gal", "rpm", "lb", "kg")
    },
    **{unit.lower(): unit for unit in ("g/L", "mS/cm", "lb/d")},
    **dict.fromkeys(["mw/cm²"], "mW/cm2"),
    **dict.fromkeys(["percent", "pct"], "%"),
    **dict.fromkeys(["psig"], "psi"),
    **dict.fromkeys(["feet"], "ft"),
    **dict.fromkeys(["mgd"], "MGD"),
    **dict.fromkeys(["ntu", "fnu", "ntu/fnu"], "NTU"),
    **dict.fromkeys(["mg/l"], "mg/L"),
    **dict.fromkeys(["l/s", "lps", "l/sec"], "L/s"),
    **dict.fromkeys(["l/min", "lpm"], "L/min"),
    **dict.fromkeys(["l/h", "l/hr"], "L/h"),
    **dict.fromkeys(["gph", "gal/h", "gal/hr"], "gph"),
    **dict.fromkeys(["gpd", "gal/d", "gal/day"], "gpd"),
    **dict.fromkeys(["hz"], "Hz"),
    **dict.fromkeys(["kw"], "kW"),
    **dict.fromkeys(["mv"], "mV"),
    **dict.fromkeys(["cfs", "ft3/s", "ft³/s"], "cfs"),
}
"""What control systems and benches write for a unit, in lower case: common practice, no source. A part in a
million of water is a milligram in a litre, as near as it matters."""
_DEGREES = {"degC", "degF"}
_OWN_DIMENSION = {"pH", "1", "", "%"}
"""Units that convert to nothing but themselves, whatever their formal dimension."""


def spelling(unit: str) -> str:
    """Return our spelling of `unit`, which may be written with a degree sign or a micro sign."""
    trimmed = unit.strip()
    return _OTHER_WRITINGS.get(trimmed, trimmed)


def as_written(text: str) -> str:
    """Return our spelling of a unit as people and control systems write it: `SU`, `ppm`, `ntu`, `deg F`."""
    return TRADE_WRITINGS.get(text.strip().lower()) or spelling(text)


def known_spelling(text: str) -> str | None:
    """Return our spelling of a unit that we can keep and report, however it is written; None for others."""
    return next((unit for unit in (spelling(text), as_written(text)) if is_known(unit)), None)


def is_known(unit: str) -> bool:
    """Tell whether `unit` is one we can keep and report."""
    return spelling(unit) in _SPELLINGS or _registry_knows(spelling(unit))


def is_of_the_trade(unit: str) -> bool:
    """Tell whether `unit` is one that plants write, and not merely one that some science knows."""
    return spelling(unit) in _SPELLINGS


def conversion(source: str, target: str) -> tuple[float, float]:
    """Return ``(factor, offset)`` with ``target = source * factor + offset``.

    Parameters
    ----------
    source, target : str
        Unit spellings, for instance ``degF`` and ``degC``.

    Raises
    ------
    ValueError
        A unit is unknown, or the two measure different things.
    """
    source, target = spelling(source), spelling(target)
    if source == target:
        return 1.0, 0.0
    if source in _OWN_DIMENSION or target in _OWN_DIMENSION:
        raise ValueError(f"{source!r} does not convert to {target!r}")
    return _linear(source, target)


@cache
def _linear(source: str, target: str) -> tuple[float, float]:
    registry = _registry()
    try:
        start, end = registry.Unit(_formal(source)), registry.Unit(_formal(target))
        offset = registry.Quantity(0.0, start).to(end).magnitude
        # Degrees count from different zeros: only their difference has a factor.
        factor = registry.Quantity(1.0, _difference(source)).to(_difference(target)).magnitude
    except Exception as error:
        raise ValueError(f"{source!r} does not convert to {target!r}") from error
    return float(factor), float(offset)


def _difference(unit: str) -> str:
    return f"delta_{unit}" if unit in _DEGREES else _formal(unit)


def _formal(unit: str) -> str:
    return _SPELLINGS.get(unit, unit)


@cache
def _registry() -> Any:
    from pint import UnitRegistry

    registry: Any = UnitRegistry(autoconvert_offset_to_baseunit=True)
    registry.define("NTU = [turbidity]")
    registry.define("shaft_speed = [rotation]")  # a general registry reads rpm as radians a second
    registry.define("MGD = 1e6 * gallon / day")
    return registry


def _registry_knows(unit: str) -> bool:
    try:
        _registry().Unit(_formal(unit))
    except Exception:
        return False
    return True
