"""Exactly the integral: minutes and area of 1,000 random irregular series with gaps, in whole numbers."""

from datetime import timedelta
from fractions import Fraction

import numpy as np
import polars as pl
import pytest

from pipeline.clock import Period
from pipeline.episodes import episodes, held, minutes_beyond
from pipeline.facts import SPANS
from pipeline.limits import instantaneous
from pipeline.record import record
from pipeline.table import TIME

SERIES = 1000
LIMIT = 1.0
HOLD = timedelta(minutes=30)


def _series(make, seed):
    """Up to 300 readings at irregular whole milliseconds, some not good, with gaps longer than the hold."""
    random = np.random.default_rng(seed)
    count = int(random.integers(2, 300))
    steps_ms = random.integers(1, 1_800_000, count) * random.choice([1, 1, 1, 5], count)
    at_ms = np.cumsum(steps_ms)
    value = np.round(random.normal(1.0, 0.5, count), 3)
    good = random.random(count) > 0.05
    start = make.utc(2026, 3, 7)
    times = pl.Series("time", [start + timedelta(milliseconds=int(ms)) for ms in at_ms], TIME)
    frame = pl.DataFrame({"time": times, "value": value, "good": good})
    return start, at_ms, value, good, frame


def _exact(at_ms, value, good, end_ms, side):
    """Minutes and area by hand, in fractions: each good reading stands to the next or for the hold."""
    minutes = area = Fraction(0)
    hold_ms = HOLD // timedelta(milliseconds=1)
    for k, (at, reading, is_good) in enumerate(
        zip(at_ms.tolist(), value.tolist(), good.tolist(), strict=True)
    ):
        until = min(at + hold_ms, at_ms.tolist()[k + 1] if k + 1 < len(at_ms) else end_ms, end_ms)
        beyond = side * (Fraction(reading) - Fraction(LIMIT))
        if is_good and beyond > 0:
            minutes += Fraction(until - at, 60_000)
            area += Fraction(until - at, 60_000) * beyond
    return float(minutes), float(area)


@pytest.mark.parametrize("part", range(4))
def test_minutes_and_area_are_the_exact_integral(make, part):
    for seed in range(part * SERIES // 4, (part + 1) * SERIES // 4):
        start, at_ms, value, good, frame = _series(make, seed)
        end_ms = int(at_ms[-1]) + 10_000_000
        end = start + timedelta(milliseconds=end_ms)
        whole = held(frame, pl.DataFrame(schema=SPANS), HOLD, start, end)
        for side in (1, -1):
            minutes, area = _exact(at_ms, value, good, end_ms, side)
            found = episodes(whole, LIMIT, side)
            assert sum(e.minutes for e in found) == pytest.approx(minutes, abs=1e-6), seed
            assert sum(e.area for e in found) == pytest.approx(area, abs=1e-6), seed
            assert minutes_beyond(whole, LIMIT, side) == pytest.approx(minutes, abs=1e-6), seed


def test_the_clock_of_any_two_halves_adds_up(make):
    """Wherever a period is cut, the minutes of both parts are those of the whole."""
    for seed in range(40):
        start, at_ms, value, good, frame = _series(make, seed)
        tag = make.tag(step_s=900)
        case = make.case(
            make.frame(frame["time"], value, good=good),
            tag=tag,
            as_of=start + timedelta(milliseconds=int(at_ms[-1]) + 10_000_000),
        )
        limit = make.limit(high=LIMIT, statistic="instantaneous")
        judged = record(case, limit)
        cut = start + timedelta(milliseconds=int(np.random.default_rng(seed).integers(0, int(at_ms[-1]))))
        spans = [(start, cut), (cut, case.as_of), (start, case.as_of)]
        first, second, whole = (
            instantaneous.assess(judged, limit, Period("", a, b, make.zone)).minutes_outside for a, b in spans
        )
        assert first + second == pytest.approx(whole, abs=1e-6)
