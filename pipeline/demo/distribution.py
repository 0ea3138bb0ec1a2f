"""Distribution: tanks that fill and fall, and the pumps that follow them.

The lower zone floats on two tanks (Bench and Depot) and is fed by high service pumps and a well; a
booster lifts water to the Ridge tank of the upper zone. Every level follows what comes in less what
goes out.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.demo.calendar import BoolArray, Calendar, FloatArray
from pipeline.demo.noise import lag, wander
from pipeline.demo.script import BOOSTER_OUT, WELL_SWITCH
from pipeline.demo.water import Signals

GPM_PER_MGD = 1e6 / 1440.0
LOWER_GAL_PER_FT = 24_000.0
UPPER_GAL_PER_FT = 4_500.0
UPPER_SHARE = 0.18
PUMP_1_GPM, PUMP_2_GPM = 500.0, 450.0
BOOSTER_GPM = 230.0
WELL_GPM = (195.0, 180.0)


@dataclass(frozen=True)
class Inflow:
    """What the tank loop needs, each over the calendar: demand of both zones and well supply [gpm]."""

    lower_gpm: FloatArray
    upper_gpm: FloatArray
    wells_gpm: FloatArray
    booster_allowed: BoolArray


def switch(running: bool, level_ft: float, start_ft: float, stop_ft: float) -> bool:
    """Return whether a filling pump runs: from below `start_ft` until above `stop_ft` [ft]."""
    return level_ft < stop_ft if running else level_ft < start_ft


def wells(seed: int, calendar: Calendar) -> Signals:
    """Return pump states, flows and water levels of both wells.

    The duty well runs by day, longer in summer; the other is exercised on Tuesday evenings. A
    well's level falls within the hour when its pump starts, and a little more over days.
    """
    summer = (calendar.day_of_year > 135) & (calendar.day_of_year < 273)
    day = (calendar.hour >= 6.0) & (calendar.hour < np.where(summer, 20.0, 16.0))
    exercise = (calendar.weekday == 1) & (calendar.hour >= 20.5) & (calendar.hour < 22.0)
    after = calendar.hours_since(WELL_SWITCH) >= 0.0
    signals: Signals = {}
    for number, duty in ((1, ~after), (2, after)):
        state = np.where(duty, day, exercise).astype(np.float64)
        flow = state * WELL_GPM[number - 1] * (1.0 + wander(seed, f"well {number}", calendar, 0.012))
        static = (92.0, 84.0)[number - 1] + wander(seed, f"aquifer {number}", calendar, 0.5)
        drawdown = 0.75 * lag(flow, 0.7, calendar) + 0.45 * lag(flow, 90.0, calendar)
        signals[f"YS-20{number}"] = state
        signals[f"FIT-20{number}"] = flow
        signals[f"LIT-20{number}"] = static + 3.0 * calendar.season(150.0) - drawdown / 9.5
    return signals


def tanks(seed: int, calendar: Calendar, demand_mgd: FloatArray, well: Signals) -> Signals:
    """Return levels, pump states, flows and pressures of the distribution system."""
    since_h, until_h = (calendar.hours_since(when) for when in BOOSTER_OUT)
    inflow = Inflow(
        lower_gpm=demand_mgd * (1.0 - UPPER_SHARE) * GPM_PER_MGD,
        upper_gpm=demand_mgd * UPPER_SHARE * GPM_PER_MGD,
        wells_gpm=well["FIT-201"] + well["FIT-202"],
        booster_allowed=(since_h < 0.0) | (until_h >= 0.0),
    )
    lower, upper, states = _follow(calendar, inflow)
    pump_1, pump_2, booster = states
    trim = 1.0 + wander(seed, "high service", calendar, 0.008) - 0.006 * (lower - 26.5)
    flow = pump_1 * PUMP_1_GPM * trim + pump_2 * PUMP_2_GPM * trim
    towards = lag(flow + inflow.wells_gpm - inflow.lower_gpm, 0.5, calendar)
    bench, depot = lower + 0.0002 * towards, lower - 0.0003 * towards
    upset = wander(seed, "PIT-301", calendar, 0.3)
    return {
        "YS-131": pump_1, "YS-132": pump_2, "FIT-131": flow, "YS-311": booster,
        "FIT-311": booster * BOOSTER_GPM * (1.0 + wander(seed, "booster", calendar, 0.01)),
        "LIT-301": bench, "LIT-302": depot, "LIT-303": upper,
        "PIT-131": 95.0 + bench / 2.31 + 1.3e-5 * flow**2,
        "PIT-301": 58.0 + depot / 2.31 - 6.0e-6 * inflow.lower_gpm**2 + upset,
    }  # fmt: skip


def _follow(calendar: Calendar, inflow: Inflow) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Step the two zones through time; returns both levels and the three pump states."""
    n, minutes = len(calendar), float(calendar.step_minutes)
    lower, upper = np.empty(n), np.empty(n)
    states = np.zeros((3, n))
    low, high = 26.5, 24.0
    first = second = booster = False
    rows = zip(inflow.lower_gpm.tolist(), inflow.upper_gpm.tolist(), inflow.wells_gpm.tolist(),
               inflow.booster_allowed.tolist(), strict=True)  # fmt: skip
    for i, (lower_gpm, upper_gpm, wells_gpm, allowed) in enumerate(rows):
        first = switch(first, low, 25.4, 27.8)
        second = switch(second, low, 24.2, 26.6)
        booster = allowed and switch(booster, high, 21.5, 26.5)
        lower[i], upper[i] = low, high
        states[:, i] = first, second, booster
        lift_gpm = BOOSTER_GPM * booster
        pumped_gpm = (PUMP_1_GPM * first + PUMP_2_GPM * second) * (1.0 - 0.006 * (low - 26.5))
        low += (pumped_gpm + wells_gpm - lower_gpm - lift_gpm) * minutes / LOWER_GAL_PER_FT
        high += (lift_gpm - upper_gpm) * minutes / UPPER_GAL_PER_FT
        low, high = min(low, 31.5), min(max(high, 1.0), 30.0)
    return lower, upper, states
