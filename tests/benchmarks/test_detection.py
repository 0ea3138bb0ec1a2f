"""The bench can fail: detectors spoilt on purpose score plainly worse on the same sensors."""

import numpy as np
import pytest

from benchmarks import detection_cost
from benchmarks.detection_plan import mix, tasks
from benchmarks.detection_rows import rows
from benchmarks.detection_work import Task, records
from benchmarks.families import MEASURES
from benchmarks.families_sensors import Order
from benchmarks.scoring import is_true


def _judged(orders, broken="", seeds=(1,)):
    return [one for seed in seeds for one in records(Task("A", seed, tuple(orders), broken))]


def _false(judged):
    return sum(not is_true(one, said) for one in judged for said in one.entries)


def _median_distance(judged):
    """Between the estimated and the true error 56 days on [tolerances]."""
    day = [int(one.faults[0].begin) + 55 for one in judged]
    pairs = [(one.at_56.error, one.error[d]) for one, d in zip(judged, day, strict=True) if one.at_56]
    return np.median([abs(said - true) for said, true in pairs])


def test_halved_bars_cry_wolf():
    healthy = [Order("mix", measure, reference) for measure in MEASURES for reference in ("weekly", "none")]
    sound, halved = _judged(healthy, seeds=(1, 2)), _judged(healthy, "halved", seeds=(1, 2))
    # A quarter of a false entry a sensor-year is the budget: 2.5 on these ten sensor-years, 7 once in a 100.
    assert _false(sound) <= 6
    assert _false(halved) >= _false(sound) + 6


def test_a_closed_up_record_hides_its_gaps():
    gaps = [Order("gap-96", measure, "none", "gap", 96.0, times=3) for measure in MEASURES]
    sound, closed = ({row.id: row.figure for row in rows(_judged(gaps, way))} for way in ("", "dropnan"))
    assert sound["detection-gap-recall"] == pytest.approx(1.0)
    assert closed["detection-gap-recall"] == 0.0


def test_a_closed_up_record_loses_its_drifts():
    """What a day shows is then held against the grabs of another."""
    drifts = [
        Order("drift-daily", m, "daily", "drift", 2.5, is_serviced=False) for m in ("ph", "chlorine", "flow")
    ]
    sound, closed = _judged(drifts), _judged(drifts, "dropnan")
    off = [_median_distance(judged) for judged in (sound, closed)]
    assert sum(one.at_56 is not None for one in sound) == 3
    assert sum(one.at_56 is not None for one in closed) < 3 or off[1] > 2 * off[0]


def test_the_plan_is_the_same_each_time_and_its_mix_is_mostly_healthy():
    assert tasks("B", full=False) == tasks("B", full=False)
    assert len(tasks("B", full=True)) == 4 * len(tasks("B", full=False))
    assert {t.seed for t in tasks("A", full=False)}.isdisjoint(t.seed for t in tasks("B", full=False))
    faulty = [bool(order.kind) for seed in range(200) for order in mix(seed)]
    assert np.mean(faulty) == pytest.approx(0.3, abs=0.04)  # 1600 draws: sd .011


def test_a_kind_that_no_check_looks_for_is_a_row_without_figure():
    found = {row.id: row for row in rows(_judged([Order("mix", "ph", "none")]))}
    from pipeline import checks
    from pipeline.parts import parts

    for row, kind in (("clock", "clock"), ("copied", "copied"), ("resolution", "resolution")):
        if kind not in parts(checks):
            assert found[f"detection-{row}-recall"].figure is None


def test_what_judging_costs_is_measured_beside_a_yardstick(monkeypatch):
    """All checks together take less than a decomposition of a tenth of the record, on any machine."""
    monkeypatch.setattr(detection_cost, "EVERY", 200)
    found = {row.id: row.figure for row in detection_cost.cost("A")}
    assert found["detection-cost"] > found["detection-cost-checks"] > 0
    assert found["detection-cost-checks-over-stl"] < 1.0
