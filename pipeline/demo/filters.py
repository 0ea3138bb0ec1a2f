"""Filters: four of them, their runs and washes, and the clearwell that they feed."""

from dataclasses import dataclass

import numpy as np

from pipeline.demo.calendar import BoolArray, Calendar, FloatArray
from pipeline.demo.distribution import GPM_PER_MGD
from pipeline.demo.noise import jitter, lag, wander, white
from pipeline.demo.script import FILTER_2_OUT, ORDERED_WASHES
from pipeline.demo.shapes import bend
from pipeline.demo.water import Signals

OFF, FILTER, WASH = 0.0, 1.0, 2.0
NUMBERS = (1, 2, 3, 4)
WASH_MINUTES = 30
WASH_GPM = 420.0
WASH_MEAN_GPM = 19.0
CLEARWELL_GAL_PER_FT = 26_000.0
CLEARWELL_FT = 9.5
CLEAN_FT = 1.3
"""Head loss of a clean filter at 130 gpm [ft]."""


@dataclass
class Run:
    """One filter between two washes."""

    state: float = FILTER
    head_ft: float = CLEAN_FT
    hours: float = 0.0
    wash_left: float = 0.0


@dataclass
class Plant:
    """The raw water pumps and the clearwell: what the operators watch when they set the flow."""

    flow_gpm: float
    level_ft: float = CLEARWELL_FT

    def step(self, usual_gpm: float, minutes: int) -> None:
        """Set the flow: usual pumping, corrected for the level, ramped by at most 1 gpm a minute."""
        wanted = usual_gpm + WASH_MEAN_GPM + 28.0 * (CLEARWELL_FT - self.level_ft)
        ramp = 1.0 * minutes
        self.flow_gpm += max(-ramp, min(ramp, wanted - self.flow_gpm))
        self.flow_gpm = max(200.0, min(1100.0, self.flow_gpm))


def runs(seed: int, calendar: Calendar, high_service_gpm: FloatArray, settled_ntu: FloatArray) -> Signals:
    """Return raw flow, clearwell level, and state, flow and head loss of each filter.

    Head loss builds with what the filter holds back. A filter is washed in the day shift once it needs
    it, at any hour when it must be, and never two at once. The clearwell gains what is filtered and
    loses high service and wash water.
    """
    n, minutes = len(calendar), calendar.step_minutes
    first_days = np.arange(n) < calendar.steps(48)
    opening_gpm = float(np.mean(high_service_gpm[: calendar.steps(96)]))
    usual = np.where(first_days, opening_gpm, lag(high_service_gpm, 14.0, calendar))
    ordered, held, out = _orders(calendar)
    plant = Plant(float(usual[0]))
    filters = [Run(head_ft=CLEAN_FT + 1.1 * k, hours=10.0 * k) for k in range(4)]
    tired = [0.11 * jitter(seed, f"filter {k}", 0.08) * (1.0, 1.07, 0.95, 1.03)[k - 1] for k in NUMBERS]
    states, heads, flow, level = np.empty((n, 4)), np.empty((n, 4)), np.empty(n), np.empty(n)
    rows = zip(usual.tolist(), high_service_gpm.tolist(), np.sqrt(settled_ntu).tolist(),
               (1.0 + wander(seed, "raw flow", calendar, 0.006)).tolist(),
               ((calendar.hour >= 6.5) & (calendar.hour < 15.0)).tolist(), strict=True)  # fmt: skip
    for i, (usual_gpm, out_gpm, dirt, trim, day_shift) in enumerate(rows):
        plant.step(usual_gpm, minutes)
        flow[i], level[i] = plant.flow_gpm * trim, plant.level_ft
        load = flow[i] * dirt / (sum(run.state == FILTER for run in filters) or 1) / 130.0
        for k, run in enumerate(filters):
            busy = any(other.state == WASH for other in filters if other is not run)
            need = run.head_ft > (5.6 if day_shift else 7.6) and run.hours > 30.0
            begin = i in ordered[k] or (need and not busy and i not in held[k])
            _step(run, begin, i in out[k], tired[k] * load, minutes)
            states[i, k], heads[i, k] = run.state, run.head_ft
        washing = sum(run.state == WASH for run in filters)
        plant.level_ft += (flow[i] - out_gpm - WASH_GPM * washing) * minutes / CLEARWELL_GAL_PER_FT
    return {"FIT-101": flow / GPM_PER_MGD, "LIT-131": level, **_signals(seed, calendar, flow, states, heads)}


def _orders(calendar: Calendar) -> tuple[list[set[int]], list[set[int]], list[range]]:
    """Return, filter by filter, grid positions: of ordered washes, of waiting for one, out of service."""
    ordered: list[set[int]] = [set() for _ in NUMBERS]
    held: list[set[int]] = [set() for _ in NUMBERS]
    for number, when in ORDERED_WASHES:
        at = calendar.index(when)
        ordered[number - 1].add(at)
        held[number - 1].update(range(at - calendar.steps(12), at))
    away = range(calendar.index(FILTER_2_OUT[0]), calendar.index(FILTER_2_OUT[1]))
    ordered[1].add(away.stop)
    return ordered, held, [range(0), away, range(0), range(0)]


def _step(run: Run, begin: bool, away: bool, growth_ft_h: float, minutes: int) -> None:
    """Move one filter on by one step."""
    if away:
        run.state, run.head_ft = OFF, 0.0
        return
    if begin and run.state != WASH:
        run.state, run.wash_left = WASH, float(WASH_MINUTES)
    elif run.state == WASH:
        run.wash_left -= minutes
        if run.wash_left <= 0.0:
            run.state, run.head_ft, run.hours = FILTER, CLEAN_FT, 0.0
    if run.state == FILTER:
        run.head_ft += growth_ft_h * minutes / 60.0
        run.hours += minutes / 60.0


def _signals(
    seed: int, calendar: Calendar, flow_gpm: FloatArray, states: FloatArray, heads: FloatArray
) -> Signals:
    running = states == FILTER
    share = flow_gpm / np.maximum(1, running.sum(axis=1))
    signals: Signals = {}
    for k, number in enumerate(NUMBERS):
        split = 1.0 + wander(seed, f"split {number}", calendar, 0.012)
        flow = np.where(running[:, k], share * split, 0.0)
        # Clean media: head loss goes with the rate; the dirt adds its own part.
        rate = np.where(running[:, k], (share / 130.0) ** 1.1, 0.0)
        signals[f"YS-12{number}"] = states[:, k]
        signals[f"FIT-12{number}"] = flow
        signals[f"PDIT-12{number}"] = np.where(running[:, k], CLEAN_FT * rate + heads[:, k] - CLEAN_FT, 0.05)
    return signals


def turbidities(seed: int, calendar: Calendar, run: Signals, settled_ntu: FloatArray) -> Signals:
    """Return the turbidity behind each filter and that of all together.

    A filter back from a wash passes cloudier water that clears within half an hour (ripening).
    """
    cloudy = (settled_ntu / 0.85) ** 0.3 * np.exp(wander(seed, "filtration", calendar, 0.08))
    signals: Signals = {}
    mixed, total = np.zeros(len(calendar)), np.zeros(len(calendar))
    for number, base in zip(NUMBERS, (0.046, 0.052, 0.043, 0.049), strict=True):
        running = run[f"YS-12{number}"] == FILTER
        since_h = hours_since_true(calendar, running)
        peak = 0.16 * jitter(seed, f"ripening {number}", 0.2)
        clear = base * cloudy * np.exp(wander(seed, f"AIT-12{number}", calendar, 0.13))
        water = clear + peak * np.exp(-since_h * 60.0 / 11.0) + 0.00015 * np.minimum(since_h, 72.0)
        water = bend(f"AIT-12{number}", calendar, water)
        signals[f"AIT-12{number}"] = np.where(running, water, 0.09 + 0.02 * cloudy)
        mixed += run[f"FIT-12{number}"] * water
        total += run[f"FIT-12{number}"]
    grain = 1.0 + white(seed, "combined", calendar, 0.01)
    signals["AIT-130"] = mixed / np.maximum(total, 1.0) * grain + 0.004
    return signals


def hours_since_true(calendar: Calendar, state: BoolArray) -> FloatArray:
    """Return how long `state` has been true [h]; 0 at its first step, and where it is false."""
    position = np.arange(len(state))
    last_false = np.maximum.accumulate(np.where(state, -1, position))
    # A state that was already true when the record begins has held for days.
    steps = np.where(last_false < 0, position + calendar.steps(24), position - last_false - 1)
    return np.where(state, steps, 0) * calendar.step_minutes / 60.0
