"""Fifth family, places: what stands where in four small plants, and what moves the water there.

Written from what operators of small plants see, by somebody who had read how the other families are made
and how sensors are scored, and not the code of any check nor its figures. It is held out: never tune on it.

What the other families lack: wells that run in short cycles as a tank asks for them, by turns, each with its
own water; a lagoon that the sun and its algae drive; an analyser that several streams share, so that its
error is all of theirs; a climate of its own (weather, rain, melt, bloom, ice, turnover, drought) that every
place answers to in its own way, for half of the plants with the summer in the scored half year; recorders
that average, or keep only changes past a dead band; scatter with a memory, and of another sort after a swap;
holds for minutes when the power blinks; services only when somebody sees something, some to a bad bench;
faults that are put right again; benches with lots, slips of the pen, wrong days and a wrong hour in spring
and autumn.

Sizes: common practice, no source.
"""

from dataclasses import dataclass, replace

from benchmarks.families import MEASURES, Measure


@dataclass(frozen=True)
class Place:
    """What stands at one place of a plant; sizes on the working scale.

    Parameters
    ----------
    measure : Measure
        Its season, rhythm, storm, source and set-point are not used: `pulls` is.
    pulls : mapping of str to float
        How far each driver of `families_fifth_climate.Drivers` moves it.
    pace : float [tolerances]
        How far a healthy one goes from one planned service to the next, usually.
    leans : float
        The sign it usually goes with; 0 for either.
    bench : float [unit]
        To which the bench rounds; 0 for two significant digits.
    references : tuple of str
        What it may be held against, each as likely.
    shared : str
        Name of the analyser, where several streams share one by a sample selector.
    """

    measure: Measure
    pulls: dict[str, float]
    pace: float
    leans: float
    bench: float
    references: tuple[str, ...]
    shared: str = ""


GRABS = ("weekly", "weekly", "daily", "none", "steps")
SOME = ("weekly", "none", "none", "twin", "steps")
NEVER = ("none", "none", "none", "twin")

_PH, _CL, _TU, _TE, _FL = (MEASURES[n] for n in ("ph", "chlorine", "turbidity", "temperature", "flow"))
PH = replace(_PH, level=7.6, day_sd=0.03, day_phi=0.7, fast_sd=0.01)
CHLORINE = replace(_CL, level=1.1, day_sd=0.05, day_phi=0.65, fast_sd=0.012, lab_sd=0.04)
TURBIDITY = replace(_TU, level=0.12, resolution=0.001, day_sd=0.12, day_phi=0.6, fast_sd=0.035)
TEMPERATURE = replace(_TE, level=12.5, day_sd=0.2, day_phi=0.85, fast_sd=0.03)
FLOW = replace(_FL, level=420.0, high=2000, day_sd=0.03, day_phi=0.5, fast_sd=0.015)
CONDUCTIVITY = Measure("conductivity", "uS/cm", 0, 3000, 1.0, 520.0, False, 6.0, 0.9, 1.2, 0, 0, 20.0, 5.0,
                       120, 3.0, 0, 0, 0)  # fmt: skip
LEVEL = Measure("level", "ft", 0, 40, 0.01, 22.0, False, 0.05, 0.3, 0.015, 0, 0, 0.4, 0.1, 365, 0.04,
                0, 0, 0)  # fmt: skip
PRESSURE = Measure("pressure", "psi", 0, 150, 0.1, 62.0, False, 0.4, 0.5, 0.35, 0, 0, 2.0, 1.0, 365, 0.2,
                   0, 0, 0)  # fmt: skip
OXYGEN = Measure("dissolved_oxygen", "mg/L", 0, 25, 0.01, 7.0, False, 0.3, 0.7, 0.05, 0, 0, 0.4, 0.2, 45,
                 0.06, 0, 0, 0)  # fmt: skip
AMMONIA = Measure("ammonia", "mg/L", 0, 60, 0.01, 9.0, False, 0.5, 0.9, 0.1, 0, 0, 1.0, 0.5, 21, 0.2,
                  0, 0, 0)  # fmt: skip
UVT = Measure("uv_transmittance", "%", 0, 100, 0.1, 88.0, False, 0.8, 0.8, 0.2, 0, 0, 2.5, 0.8, 45, 0.25,
              0, 0, 0)  # fmt: skip
ORP = Measure("orp", "mV", -500, 900, 1.0, 640.0, False, 8.0, 0.7, 4.0, 0, 0, 30.0, 10.0, 90, 4.0,
              0, 0, 0)  # fmt: skip

COMMON = {
    "ph": Place(PH, {"warm": -0.05, "bloom": 0.12, "melt": -0.08, "turn": -0.06, "well": 0.04, "sun": 0.02},
                0.35, -1, 0.1, GRABS),
    "chlorine": Place(CHLORINE, {"warm": -0.06, "demand": -0.03, "fire": -0.15, "burn": 0.9, "turn": -0.1,
                                 "melt": -0.06, "stale": -0.2, "well": 0.03}, 0.4, -1, 0.01, GRABS),
    "turbidity": Place(TURBIDITY, {"runoff": 0.25, "melt": 0.3, "bloom": 0.15, "stale": 0.6, "turn": 0.2,
                                   "fire": 0.3, "demand": 0.04}, 0.3, 1, 0, GRABS),
    "temperature": Place(TEMPERATURE, {"warm": 7.5, "air": 0.5, "melt": -1.0, "well": 0.3}, 0.15, 0, 0.1,
                         SOME),
    "flow": Place(FLOW, {"demand": 0.1, "drought": -0.1, "warm": 0.12, "fire": 0.3, "well": 0.06}, 0.12, 0,
                  0, NEVER),
    "tank_level": Place(LEVEL, {"tank": 5.0, "fire": -2.5}, 0.2, 0, 0.5, NEVER),
    "pressure": Place(PRESSURE, {"demand": -2.5, "tank": 2.0, "fire": -9.0}, 0.2, 0, 1.0, NEVER),
    "remote_chlorine": Place(replace(CHLORINE, level=0.6, service_days=60, day_phi=0.8, day_sd=0.06),
                             {"warm": -0.14, "demand": 0.05, "fire": 0.15, "burn": 0.7, "turn": -0.08},
                             0.45, -1, 0.05, GRABS),
}  # fmt: skip
"""In every water plant; the first five are those that every family has."""

WELLS = {
    "well_flow": Place(replace(FLOW, level=310.0), {"well": 0.12, "drought": -0.15, "stale": 0.1}, 0.12, 1,
                       0, NEVER),
    "well_conductivity": Place(CONDUCTIVITY, {"well": 45.0, "drought": 25.0, "stale": 15.0}, 0.3, -1, 5.0,
                               SOME),
    "well_level": Place(replace(LEVEL, high=120, level=70.0, tolerance=1.0, slow_rate=0.1, day_sd=0.2),
                        {"drawn": -9.0, "drought": -8.0, "wet": 2.0}, 0.2, 0, 1.0, NEVER),
    "well_ph": Place(replace(PH, level=7.25, day_sd=0.015), {"well": 0.09, "stale": -0.05}, 0.35, -1, 0.05,
                     GRABS),
    "orp": Place(ORP, {"well": 12.0, "burn": 40.0, "stale": -60.0, "warm": -8.0}, 0.35, -1, 5.0, NEVER),
}  # fmt: skip

LAKE = {
    "raw_turbidity": Place(replace(TURBIDITY, level=2.6, high=400, resolution=0.01, day_sd=0.18,
                                   fast_sd=0.05, service_days=60),
                           {"runoff": 0.9, "melt": 1.1, "bloom": 0.6, "turn": 0.5, "ice": -0.4, "wind": 0.2},
                           0.4, 1, 0, GRABS),
    "raw_ph": Place(replace(PH, level=7.9, day_sd=0.05, service_days=45),
                    {"photo": 0.35, "bloom": 0.7, "melt": -0.3, "turn": -0.25, "ice": -0.15, "runoff": -0.1},
                    0.4, -1, 0.1, GRABS),
    "raw_conductivity": Place(replace(CONDUCTIVITY, level=280.0), {"melt": -70.0, "runoff": -20.0,
                                                                   "drought": 60.0, "ice": 12.0}, 0.3, -1,
                              5.0, SOME),
    "raw_oxygen": Place(replace(OXYGEN, level=8.8), {"warm": -2.2, "photo": 1.2, "bloom": 1.0, "turn": -2.0},
                        0.4, -1, 0.1, SOME),
    "filter_turbidity": Place(replace(TURBIDITY, level=0.04, high=10, day_sd=0.08, fast_sd=0.04),
                              {"ripe": 1.6, "age": 0.15, "melt": 0.2, "bloom": 0.2}, 0.3, 1, 0, SOME),
    "filter_head": Place(replace(LEVEL, high=15, level=3.5, tolerance=0.25, slow_rate=0.03, fast_sd=0.03),
                         {"age": 3.0, "bloom": 0.5}, 0.2, 0, 0.1, NEVER),
    "uvt": Place(UVT, {"bloom": -4.0, "melt": -5.0, "runoff": -2.0, "turn": -1.5}, 0.4, -1, 1.0, GRABS),
}  # fmt: skip

SHARED = {
    "stream_turbidity": Place(replace(TURBIDITY, level=0.3), {"runoff": 0.3, "melt": 0.3, "bloom": 0.2,
                                                              "turn": 0.2}, 0.3, 1, 0, GRABS, "turbidity"),
    "stream_chlorine": Place(replace(CHLORINE, level=0.9, day_sd=0.06),
                             {"warm": -0.1, "burn": 0.8, "demand": -0.04}, 0.45, -1, 0.05, GRABS, "chlorine"),
    "stream_ph": Place(replace(PH, level=7.75), {"bloom": 0.2, "melt": -0.12, "photo": 0.05}, 0.4, -1, 0.1,
                       GRABS, "ph"),
}  # fmt: skip

LAGOON = {
    "inflow": Place(replace(FLOW, level=140.0, high=1500, day_sd=0.06, fast_sd=0.05, tolerance=0.08),
                    {"demand": 0.4, "wet": 0.35, "melt": 0.5, "runoff": 0.25}, 0.15, 0, 0, NEVER),
    "lagoon_ph": Place(replace(PH, level=8.2, day_sd=0.08, fast_sd=0.02, service_days=45, lab_sd=0.08),
                       {"photo": 0.9, "bloom": 0.6, "ice": -0.5, "turn": -0.3}, 0.4, -1, 0.1, GRABS),
    "lagoon_oxygen": Place(replace(OXYGEN, level=5.0, day_sd=0.5, fast_sd=0.1),
                           {"photo": 7.0, "bloom": 3.0, "ice": -4.0, "turn": -2.5, "wind": 0.8, "warm": -0.8},
                           0.4, -1, 0.1, GRABS),
    "lagoon_temperature": Place(replace(TEMPERATURE, level=13.0), {"warm": 10.5, "air": 1.2, "sun": 1.0},
                                0.15, 0, 0.5, SOME),
    "lagoon_level": Place(replace(LEVEL, high=12, level=6.0, tolerance=0.2, slow_rate=0.02),
                          {"wet": 0.5, "melt": 0.7, "drought": -0.6, "warm": -0.4}, 0.2, 0, 0.1, NEVER),
    "lagoon_ammonia": Place(AMMONIA, {"warm": -5.0, "bloom": -1.5, "ice": 3.0, "turn": 2.0}, 0.45, 1, 0.1,
                            GRABS),
    "outfall_turbidity": Place(replace(TURBIDITY, level=9.0, high=400, resolution=0.01, day_sd=0.15,
                                       fast_sd=0.06, service_days=45),
                               {"bloom": 0.9, "photo": 0.15, "turn": 0.5, "ice": -0.5, "wind": 0.25}, 0.45,
                               1, 0, GRABS),
    "outfall_ph": Place(replace(PH, level=8.0, day_sd=0.07, fast_sd=0.015), {"photo": 0.6, "bloom": 0.5,
                                                                             "ice": -0.4}, 0.4, -1, 0.1,
                        GRABS),
    "lift_level": Place(replace(LEVEL, high=14, level=4.0, tolerance=0.25, fast_sd=0.04), {"pit": 1.3},
                        0.2, 0, 0.1, NEVER),
}  # fmt: skip

PLACES = COMMON | WELLS | LAKE | SHARED | LAGOON
FIFTH_MEASURES = {name: place.measure for name, place in PLACES.items()}

PLANTS: dict[str, tuple[str, ...]] = {
    "wells": ("well_flow", "well_flow", "well_conductivity", "well_level", "well_ph", "orp", "ph", "chlorine",
              "turbidity", "temperature", "tank_level", "pressure"),
    "lake": ("raw_turbidity", "raw_ph", "raw_conductivity", "raw_oxygen", "temperature", "filter_turbidity",
             "filter_turbidity", "filter_head", "uvt", "flow", "chlorine", "remote_chlorine"),
    "selector": ("stream_turbidity", "stream_turbidity", "stream_turbidity", "stream_chlorine",
                 "stream_chlorine", "stream_ph", "stream_ph", "flow", "tank_level", "pressure", "ph",
                 "remote_chlorine"),
    "lagoon": ("inflow", "lagoon_ph", "lagoon_oxygen", "lagoon_oxygen", "lagoon_temperature", "lagoon_level",
               "lagoon_ammonia", "outfall_turbidity", "outfall_ph", "chlorine", "lift_level", "lift_level"),
}  # fmt: skip
"""Twelve sensors in each of a region's four plants."""


def kind_of(names: set[str]) -> str:
    """Return which sort of plant such places make: wells, lake or lagoon; empty where any would do."""
    for kind, own in (("wells", WELLS), ("lagoon", LAGOON), ("lake", {**LAKE, **SHARED})):
        if names & set(own):
            return kind
    return ""
