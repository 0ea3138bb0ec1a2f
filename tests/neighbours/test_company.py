"""Company: who bears witness beside an analyser, and what counts as having moved."""

import numpy as np
import pytest

from pipeline.neighbours.company import has_moved, is_same_matter, is_switched

STEP_US = 900_000_000
DAYS = 40
BEGIN, BACK = 35 * 96, 35 * 96 + 12


@pytest.fixture
def alone(town):
    """Return the case of one tag, and its times [us]."""

    def build(values, **tag):
        case = town({"X": values}, tags={"X": tag})["X"]
        return case, case.readings["time"].to_physical().to_numpy()

    return build


def _noise(seed=1):
    return 100.0 + np.random.default_rng(seed).standard_normal(DAYS * 96)


def test_levels_and_pressures_bear_no_witness_and_other_areas_none(town):
    flat = np.zeros(96)
    kinds = {"A": "ph", "F": "flow", "L": "level", "P": "pressure", "S": "state", "T": "turbidity"}
    units = {"A": "pH", "F": "gpm", "P": "psi", "T": "NTU", "S": "1"}
    tags = {
        name: {"measures": kind, "unit": units.get(name, "ft"), "area": "one"} for name, kind in kinds.items()
    }
    tags["F2"] = {"measures": "flow", "unit": "gpm", "area": "two"}
    cases = town(dict.fromkeys(tags, flat), tags=tags)
    assert [one.tag.tag for one in cases["A"].company] == ["F", "S", "T"]
    assert cases["F"].company == () and cases["L"].company == ()


def test_a_flow_has_the_other_flow_meters_of_its_area(town):
    tags = {name: {"measures": "flow", "unit": "gpm"} for name in ("F1", "F2")} | {
        "A": {"measures": "ph", "unit": "pH"}
    }
    cases = town(dict.fromkeys(tags, np.zeros(96)), tags=tags)
    assert [one.tag.tag for one in cases["F1"].company] == ["F2"]


@pytest.mark.parametrize(
    ("at", "seen"), [(BEGIN - 20, False), (BEGIN - 6, True), (BACK, True), (BACK + 4, False)]
)
def test_a_flow_that_stops_is_a_switch_within_three_hours_before(alone, at, seen):
    flow = _noise()
    flow[at:] = 0.0
    case, time = alone(flow, measures="flow", unit="gpm")
    assert is_switched(case, time[BEGIN], time[BACK]) is seen


def test_noise_is_no_switch(alone):
    case, time = alone(_noise(), measures="flow", unit="gpm")
    assert not is_switched(case, time[BEGIN], time[BACK])


@pytest.mark.parametrize(("at", "seen"), [(BACK - 2, True), (BEGIN + 6, False)])
def test_of_a_pump_that_runs_by_the_hour_only_the_switch_at_the_snap_counts(alone, at, seen):
    pump = np.zeros(DAYS * 96)
    pump[: 35 * 96 - 40] = np.arange(35 * 96 - 40) // 5 % 2
    pump[at:] = 1 - pump[at - 1]
    case, time = alone(pump, measures="state", unit="1")
    assert is_switched(case, time[BEGIN], time[BACK]) is seen


@pytest.mark.parametrize(("height", "seen"), [(0.5, False), (3.0, True)])
def test_a_move_is_half_of_a_weeks_range(alone, height, seen):
    """Nine tenths of normal noise lie within 2 x 1.645 sd."""
    values = _noise()
    values[BEGIN:BACK] -= height
    case, time = alone(values, measures="ph", unit="pH")
    assert has_moved(case, time[BEGIN], time[BACK], time[BACK + 2]) is seen


def test_nothing_after_the_snap_was_known_is_looked_at(alone):
    values = _noise()
    values[BACK + 3 :] -= 50.0
    case, time = alone(values, measures="ph", unit="pH")
    assert not has_moved(case, time[BEGIN], time[BACK], time[BACK + 2])


def test_particles_cloud_and_shade(alone):
    """More particles: more turbidity, less light through the water. From memory."""
    assert is_same_matter("turbidity", "uv_transmittance") and is_same_matter("ph", "ph")
    assert not is_same_matter("turbidity", "chlorine")
