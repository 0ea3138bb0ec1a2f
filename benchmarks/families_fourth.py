"""Fourth family, roles: the forty sensors of a small town's two plants, and how people treat them.

Written from what operators of small plants see, by somebody who had read how the other families are made
and how sensors are scored, and not the code of any check nor its figures. It is held out: never tune on it.

What the other families lack: instruments by their place (filter effluents, basins in batches, lift
stations, a tank filled at night), plants that run ten hours a day, wet weather that leaks into the sewers
for a week, a winter in which nitrification fails, analysers that hold a value for minutes, displays coarser
than tags.csv says, uneven services of which some are not written down and some only clean, buffers that the
trend sees, benches that round, rest on holidays, write "8:00" whatever the clock said, and use another kit
for a while.

Sizes: common practice, no source.
"""

from dataclasses import dataclass, replace

import numpy as np

from benchmarks.families import Measure


@dataclass(frozen=True)
class Role:
    """What stands at one place of a plant; sizes on the working scale.

    Parameters
    ----------
    measure : Measure
    by : {"demand", "industry", "sun", "fill", "cycle", "pumps"}
        What its day follows.
    crest_day : float [day]
        When its season is highest, from the first of July.
    pace : float [tolerances]
        How far a healthy one goes from one planned service to the next, usually.
    leans : float
        The sign it usually goes with; 0 for either.
    is_heavy : bool
        Whether bubbles, grit or rags give its scatter heavy tails.
    display : int
        Steps of `measure.resolution` that a plant with coarse displays shows it in.
    hold_s : float [s]
        How long an analyser that works in batches holds a value; 0 for none.
    bench : float [unit]
        To which the bench rounds; 0 for two significant digits.
    standard : float or None [unit]
        What it shows while it stands in a standard; None where services do not show in the trend.
    references : tuple of str
        What it may be held against, each as likely.
    """

    measure: Measure
    by: str
    crest_day: float
    pace: float
    leans: float
    is_heavy: bool
    display: int
    hold_s: float
    bench: float
    standard: float | None
    references: tuple[str, ...]


GRABS = ("daily", "weekly", "weekly", "steps", "none")
SELDOM = ("none", "none", "twin", "steps", "weekly")
NEVER = ("none", "none", "none", "twin", "steps")

PH = Measure("ph", "pH", 0, 14, 0.01, 7.45, False, 0.04, 0.6, 0.012, 0.08, 0.02, 0.2, 0.05, 30, 0.02,
             -0.05, 0.15, 0.1)  # fmt: skip
CHLORINE = Measure("chlorine", "mg/L", 0, 5, 0.01, 1.3, False, 0.05, 0.7, 0.015, 0.08, 0.06, 0.1, 0.04,
                   30, 0.02, -0.05, 0.08, 0.1)  # fmt: skip
TURBIDITY = Measure("turbidity", "NTU", 0, 100, 0.01, 1.1, True, 0.2, 0.65, 0.04, 0.25, 0.05, 0.15, 0.1,
                    91, 0.05, 0.5, 0.2, 0.0)  # fmt: skip
TEMPERATURE = Measure("temperature", "degC", 0, 40, 0.1, 12.0, False, 0.25, 0.9, 0.04, 7.0, 0.3, 0.5, 0.2,
                      182, 0.1, -0.5, 1.5, 0.0)  # fmt: skip
FLOW = Measure("flow", "gpm", 0, 4000, 1.0, 720.0, True, 0.04, 0.6, 0.02, 0.15, 0.22, 0.05, 0.03, 182,
               0.02, 0.0, 0.0, 0.05)  # fmt: skip
CONDUCTIVITY = Measure("conductivity", "uS/cm", 0, 2000, 1.0, 340.0, False, 8.0, 0.9, 1.5, 45.0, 2.0,
                       20.0, 4.0, 91, 3.0, -50.0, 120.0, 0.0)  # fmt: skip
LEVEL = Measure("level", "ft", 0, 40, 0.01, 24.0, False, 0.6, 0.4, 0.02, 0.4, 4.0, 0.4, 0.1, 182, 0.04,
                0.0, 0.0, 0.0)  # fmt: skip
PRESSURE = Measure("pressure", "psi", 0, 150, 0.1, 68.0, False, 0.5, 0.5, 0.3, 0.5, 2.5, 2.0, 1.0, 365,
                   0.2, 0.0, 0.0, 1.0)  # fmt: skip
OXYGEN = Measure("dissolved_oxygen", "mg/L", 0, 20, 0.01, 2.0, False, 0.2, 0.5, 0.06, 0.1, 1.0, 0.3, 0.15,
                 30, 0.05, 0.0, 0.0, 0.3)  # fmt: skip
ORP = Measure("orp", "mV", -500, 500, 1.0, 60.0, False, 15.0, 0.6, 5.0, 10.0, 120.0, 30.0, 10.0, 60, 4.0,
              0.0, 0.0, 0.0)  # fmt: skip
AMMONIA = Measure("ammonia", "mg/L", 0, 50, 0.01, 0.8, True, 0.25, 0.8, 0.06, 0.8, 0.2, 0.2, 0.12, 14,
                  0.06, -0.3, 0.0, 0.0)  # fmt: skip
NITRATE = Measure("nitrate", "mg/L", 0, 50, 0.1, 7.0, False, 0.8, 0.8, 0.15, -1.5, 0.6, 1.0, 0.5, 30, 0.1,
                  -1.5, 0.0, 0.0)  # fmt: skip
SOLIDS = Measure("suspended_solids", "mg/L", 0, 8000, 1.0, 2800.0, True, 0.04, 0.9, 0.03, 0.1, 0.02, 0.12,
                 0.06, 30, 0.04, -0.15, 0.0, 0.0)  # fmt: skip
UVT = Measure("uv_transmittance", "%", 0, 100, 0.1, 66.0, False, 1.5, 0.7, 0.3, 2.0, 0.8, 3.0, 1.0, 30,
              0.3, -4.0, 0.0, 0.0)  # fmt: skip

FILTERED = replace(TURBIDITY, resolution=0.001, high=10, level=0.045, day_sd=0.12, fast_sd=0.05,
                   season=0.1, lab_sd=0.15, storm=0.3, source=0.1)  # fmt: skip
RAW_TURBIDITY = replace(TURBIDITY, high=1000, level=5.0, day_sd=0.25, fast_sd=0.06, season=0.4,
                        service_days=60, storm=1.4, source=-0.8)  # fmt: skip
RAW_PH = replace( PH, level=7.9, season=0.15, rhythm=0.12, service_days=45, storm=-0.25, source=-0.3,
                 setpoint=0 )  # fmt: skip
REMOTE = replace(CHLORINE, level=0.75, day_phi=0.8, season=-0.15, rhythm=0.08, lab_sd=0.05,
                 service_days=45)  # fmt: skip
SEWAGE = replace(FLOW, high=2500, level=330.0, day_sd=0.06, fast_sd=0.05, season=0.1, rhythm=0.35,
                 tolerance=0.08, lab_sd=0.05, storm=0.7, setpoint=0)  # fmt: skip
SEWAGE_PH = replace(PH, level=7.3, day_sd=0.06, fast_sd=0.03, rhythm=0.15, lab_sd=0.08, storm=-0.1,
                    source=0, setpoint=0)  # fmt: skip
SEWAGE_SALT = replace(CONDUCTIVITY, level=900.0, day_sd=20.0, day_phi=0.7, fast_sd=6.0, season=40.0,
                      rhythm=70.0, tolerance=45.0, lab_sd=15.0, service_days=60, slow_rate=5.0,
                      storm=-200.0)  # fmt: skip
SEWAGE_HEAT = replace(TEMPERATURE, level=16.0, season=4.5, lab_sd=0.3, storm=-0.9)  # fmt: skip
BATCH = replace( LEVEL, high=24, level=15.0, day_sd=0.2, fast_sd=0.01, season=0, rhythm=2.0,
                tolerance=0.25, storm=0.5 )  # fmt: skip
LIFT = replace( LEVEL, high=12, level=4.0, day_sd=0.05, fast_sd=0.03, season=0, rhythm=1.2,
               tolerance=0.25, storm=0.2 )  # fmt: skip
OUTFALL = replace(TURBIDITY, level=3.0, fast_sd=0.06, lab_sd=0.12, service_days=60, source=0)  # fmt: skip

WATER = {
    "ph": Role(PH, "demand", 60, 0.35, -1, False, 5, 0, 0.1, 7.0, GRABS),
    "chlorine": Role(CHLORINE, "demand", 200, 0.4, -1, False, 2, 0, 0.05, 0.0, GRABS),
    "turbidity": Role(TURBIDITY, "demand", 300, 0.3, 1, True, 5, 0, 0, 20.0, GRABS),
    "temperature": Role(TEMPERATURE, "sun", 30, 0.15, 0, False, 5, 0, 0.5, None, SELDOM),
    "flow": Role(FLOW, "demand", 20, 0.1, 0, False, 5, 0, 0, None, NEVER),
    "raw_turbidity": Role(RAW_TURBIDITY, "sun", 280, 0.4, 1, True, 10, 0, 0, 20.0, GRABS),
    "raw_ph": Role(RAW_PH, "sun", 40, 0.35, -1, False, 5, 0, 0.1, 7.0, GRABS),
    "raw_conductivity": Role(CONDUCTIVITY, "sun", 220, 0.3, -1, False, 1, 0, 5.0, 1413.0, SELDOM),
    "filter_turbidity": Role(FILTERED, "demand", 300, 0.3, 1, True, 5, 0, 0, None, SELDOM),
    "remote_chlorine": Role(REMOTE, "demand", 200, 0.4, -1, False, 2, 600, 0.05, 0.0, GRABS),
    "tank_level": Role(LEVEL, "fill", 20, 0.15, 0, False, 10, 0, 0.1, None, NEVER),
    "pressure": Role(PRESSURE, "demand", 200, 0.15, 0, False, 10, 0, 1.0, None, NEVER),
}  # fmt: skip
"""The water plant; the first five are those that every family has."""

WASTE = {
    "influent_flow": Role(SEWAGE, "demand", 300, 0.15, 0, True, 5, 0, 0, None, NEVER),
    "influent_ph": Role(SEWAGE_PH, "industry", 60, 0.4, -1, True, 10, 0, 0.1, 7.0, GRABS),
    "influent_conductivity": Role(SEWAGE_SALT, "industry", 80, 0.3, -1, True, 5, 0, 10.0, 1413.0, SELDOM),
    "waste_temperature": Role(SEWAGE_HEAT, "demand", 60, 0.15, 0, False, 1, 0, 0.5, None, SELDOM),
    "oxygen": Role(OXYGEN, "cycle", 200, 0.4, -1, True, 10, 0, 0.1, 8.5, GRABS),
    "batch_level": Role(BATCH, "cycle", 20, 0.15, 0, False, 10, 0, 0.1, None, NEVER),
    "orp": Role(ORP, "cycle", 20, 0.3, 0, False, 5, 0, 5.0, 220.0, NEVER),
    "ammonia": Role(AMMONIA, "demand", 215, 0.5, 0, True, 10, 900, 0.05, 10.0, GRABS),
    "nitrate": Role(NITRATE, "demand", 215, 0.35, 1, False, 1, 900, 0.1, 20.0, GRABS),
    "solids": Role(SOLIDS, "sun", 230, 0.4, 1, True, 10, 0, 10.0, 0.0, GRABS),
    "outfall_turbidity": Role(OUTFALL, "demand", 230, 0.4, 1, True, 10, 0, 0, 20.0, GRABS),
    "outfall_ph": Role(replace(PH, level=7.1), "demand", 60, 0.35, -1, False, 10, 0, 0.1, 7.0, GRABS),
    "uvt": Role(UVT, "demand", 60, 0.4, -1, False, 5, 300, 1.0, 100.0, GRABS),
    "lift_level": Role(LIFT, "pumps", 20, 0.15, 0, True, 10, 0, 0.1, None, NEVER),
}  # fmt: skip
"""The wastewater plant with its lift stations."""

ROLES = WATER | WASTE
FOURTH_MEASURES = {name: role.measure for name, role in ROLES.items()}

TRAINS = (
    (*WATER, *("filter_turbidity",) * 4, "chlorine", "tank_level", "tank_level", "ph"),
    (*WASTE, "influent_flow", "oxygen", "batch_level", "solids", "lift_level", "outfall_turbidity"),
)
"""Twenty sensors in either plant."""


def rounded(role: Role, value: float) -> float:
    """Return a bench result as it is written down [unit]."""
    if role.bench:
        return round(round(value / role.bench) * role.bench, 6)
    digits = 1 - int(np.floor(np.log10(max(value, 1e-9))))
    return round(value, digits)
