"""Measures: what a tag's letters (ISA-5.1) and the words of its name say that it measures."""

import re

from pipeline.setup.guess import Guess

_FIRST = {
    "A": "analysis",
    "E": "voltage",
    "F": "flow",
    "H": "state",
    "I": "current",
    "J": "power",
    "L": "level",
    "P": "pressure",
    "S": "speed",
    "T": "temperature",
    "W": "weight",
    "Y": "state",
    "Z": "position",
}
"""First letters of ISA-5.1 (identification letters, table of first and succeeding letters)."""

_ISA = re.compile(r"(?<![A-Za-z])([A-Z])([A-Z]{1,4})[-_ ]?(\d{1,5}[A-Z]?)(?![A-Za-z0-9])")
_LATER = frozenset("ACDEFGHIKLOQRSTVXYZ")

_WORDS = (
    ("turbidity", r"turbidity|turb|ntu|fnu"),
    ("chlorine", r"chlorine|cl2|residual|chloramine"),
    ("head_loss", r"head ?loss|loss of head"),
    ("temperature", r"temperature|temp|atemp"),
    ("ph", r"ph"),
    ("dissolved_oxygen", r"dissolved oxygen|oxygen|do"),
    ("conductivity", r"conductivity|cond|spcond|conductance"),
    ("salinity", r"salinity|sal"),
    ("orp", r"orp|redox|oxidation"),
    ("uv_transmittance", r"uvt|transmittance"),
    ("uv_intensity", r"uv intensity|uv dose|intensity"),
    ("fluoride", r"fluoride"),
    ("ammonia", r"ammonia|ammonium|nh4|nh3"),
    ("nitrate", r"nitrate|no3"),
    ("suspended_solids", r"mlss|tss|suspended solids"),
    ("chlorophyll", r"chlorophyll|chlfluor|chl"),
    ("rain", r"rain|rainfall|precipitation|precip|totprcp"),
    ("humidity", r"humidity|rh"),
    ("air_pressure", r"barometric|barometer|bp"),
    ("wind", r"wind|wspd|wdir"),
    ("volume", r"volume|total|totalizer|totaliser"),
    ("feed", r"feed|dose|dosing"),
    ("pressure", r"pressure|psi|psig"),
    ("level", r"level|depth|stage|cdepth|clevel"),
    ("speed", r"speed|rpm|frequency"),
    ("power", r"power|kw"),
    ("current", r"current|amps|amperes"),
    ("flow", r"flow|inflow|outflow|discharge|flowrate|mgd|gpm|cfs"),
)
"""Words of names, the more particular first: common practice, no source."""

_UNITS = {
    "NTU": "turbidity",
    "pH": "ph",
    "mV": "orp",
    "uS/cm": "conductivity",
    "mS/cm": "conductivity",
    "degC": "temperature",
    "degF": "temperature",
    "mW/cm2": "uv_intensity",
    "rpm": "speed",
    "kW": "power",
    **dict.fromkeys(("gpm", "gph", "gpd", "MGD", "cfs", "L/s", "L/min", "L/h", "m3/h", "m3/d"), "flow"),
    **dict.fromkeys(("psi", "kPa", "bar", "ftH2O"), "pressure"),
    **dict.fromkeys(("MG", "Mgal", "gal"), "volume"),
}
"""Units of the trade that only one thing is measured in: common practice, no source."""

_BREAKS = re.compile(r"[^A-Za-z0-9]+|(?<=[a-z])(?=[A-Z][a-z])|(?<=[a-z])(?=\d)")


def isa_tag(name: str) -> str | None:
    """Return the ISA-5.1 tag (``FIT-101``) that stands in a name, as written there; None without one."""
    match = _isa(name)
    return match[0] if match else None


def _isa(name: str) -> re.Match[str] | None:
    for match in _ISA.finditer(name):
        if match[1] in _FIRST and set(match[2]) <= _LATER and not _is_a_places_end(match):
            return match
    return None


def _is_a_places_end(match: re.Match[str]) -> bool:
    """Whether it is how the name of a place ends (``CL2-POE1``): one digit, written on, behind a hyphen."""
    is_written_on = match[0] == match[1] + match[2] + match[3]
    return is_written_on and len(match[3]) == 1 and match.string[: match.start()].endswith(("-", "_"))


def measures(name: str, is_state: bool, unit: str = "") -> Guess:
    """Say what a tag measures.

    Parameters
    ----------
    name : str
        Header of the export.
    is_state : bool
        Whether its values are those of a state (`pipeline.setup.states`).
    unit : str
        Of the export, in our spelling: it tells where name and letters do not. Blank where there is none.
    """
    if is_state:
        return Guess("state", "")
    words = " ".join(_BREAKS.split(name)).lower().strip()
    for measure, pattern in _WORDS:
        found = re.search(rf"(?<![a-z])(?:{pattern})(?![a-z])", words)
        if found:
            return Guess(measure, f"the word '{found[0]}'")
    match = _isa(name)
    if unit in _UNITS and (match is None or _FIRST[match[1]] == "analysis"):
        return Guess(_UNITS[unit], f"the unit {unit}")
    if match is None:
        return Guess("unknown", "no word and no ISA-5.1 letter says what it measures")
    return _of_letters(match)


def _of_letters(match: re.Match[str]) -> Guess:
    letters, kind = match[1] + match[2], _FIRST[match[1]]
    if match[2].startswith("D") and kind == "pressure":
        return Guess("head_loss", f"ISA-5.1 letters {letters}: differential pressure")
    if match[2].startswith("Q") and kind == "flow":
        return Guess("volume", f"ISA-5.1 letters {letters}: a flow added up")
    if kind == "analysis":
        return Guess("analysis", f"ISA-5.1 letters {letters}: an analyser, of what they do not say")
    return Guess(kind, f"ISA-5.1 letters {letters}")
