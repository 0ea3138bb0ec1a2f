"""The plant obeys what every operator knows: water in less water out, and a pump lowers its level."""

import numpy as np
import pytest

from pipeline.demo import chlorine, distribution, filters, lift
from pipeline.demo.calendar import Calendar, FloatArray, make_calendar
from pipeline.demo.lift import Station, wet_well
from pipeline.demo.reactors import REACT
from pipeline.demo.water import Signals


def changes(calendar: Calendar, net_gpm: FloatArray, gal_per_ft: float) -> FloatArray:
    """Return the level change [ft] over each step for a net inflow [gpm]."""
    return net_gpm[:-1] * calendar.step_minutes / gal_per_ft


def test_the_clearwell_keeps_its_balance(calendar: Calendar, water: Signals) -> None:
    washing = sum((water[f"YS-12{k}"] == filters.WASH).astype(float) for k in (1, 2, 3, 4))
    net = water["FIT-101"] * 1e6 / 1440 - water["FIT-131"] - filters.WASH_GPM * washing
    expected = changes(calendar, net, filters.CLEARWELL_GAL_PER_FT)
    assert np.allclose(np.diff(water["LIT-131"]), expected, atol=1e-6)


def test_the_upper_tank_keeps_its_balance(calendar: Calendar, water: Signals) -> None:
    """Between two booster runs the level only falls; while it runs it rises (most of the time)."""
    rise = np.diff(water["LIT-303"])
    running = water["YS-311"][:-1] == 1
    assert (rise[~running] < 0).all()
    assert (rise[running] > 0).mean() > 0.95


def test_the_lower_zone_keeps_its_balance(calendar: Calendar, water: Signals) -> None:
    """Over a day the tanks gain what pumps and wells bring less what the town and the booster take."""
    supply = water["FIT-131"] + water["FIT-201"] + water["FIT-202"] - water["FIT-311"]
    level = (water["LIT-301"] + water["LIT-302"]) / 2.0
    taken = supply[:-1] - np.diff(level) * distribution.LOWER_GAL_PER_FT / calendar.step_minutes
    daily = taken[: len(taken) // 96 * 96].reshape(-1, 96).mean(axis=1)
    assert daily.min() > 200
    assert daily.max() < 1100


@pytest.mark.parametrize("number", [1, 2])
def test_a_well_falls_when_its_pump_starts(calendar: Calendar, water: Signals, number: int) -> None:
    pump, level = water[f"YS-20{number}"], water[f"LIT-20{number}"]
    starts = np.flatnonzero((pump[1:] == 1) & (pump[:-1] == 0)) + 1
    assert len(starts) > 50
    after = starts[starts + calendar.steps(1.0) < len(pump)]
    assert (level[after + calendar.steps(1.0)] < level[after - 1] - 3.0).all()


def test_a_filter_wash_resets_head_loss_and_ripens(water: Signals) -> None:
    state, head, ntu = water["YS-121"], water["PDIT-121"], water["AIT-121"]
    washes = np.flatnonzero((state[1:] == filters.WASH) & (state[:-1] == filters.FILTER)) + 1
    back = washes + 2
    back = back[back + 4 < len(state)]
    assert (head[back] < head[back - 3]).all()
    assert (ntu[back] > 2.0 * ntu[back + 4]).all()  # clear again within the hour


def test_filter_runs_last_one_to_four_days(water: Signals) -> None:
    """Runs of dual-media filters: one to four days (common practice, no source)."""
    for number in (1, 3, 4):
        state = water[f"YS-12{number}"]
        washes = np.flatnonzero((state[1:] == filters.WASH) & (state[:-1] != filters.WASH))
        hours = np.diff(washes) * 0.25
        assert hours.min() >= 24.0
        assert 36.0 <= np.median(hours) <= 72.0
        assert hours.max() <= 100.0


def test_two_filters_are_never_washed_at_once_unordered(water: Signals) -> None:
    washing = sum((water[f"YS-12{k}"] == filters.WASH).astype(int) for k in (1, 2, 3, 4))
    assert np.asarray(washing).max() <= 2
    assert (np.asarray(washing) == 2).sum() <= 4  # only where an ordered wash meets another


def test_what_comes_in_goes_out(water: Signals) -> None:
    """Influent and effluent volumes agree over the record: a batch plant stores two batches at most."""
    assert water["FIT-541"].mean() == pytest.approx(water["FIT-501"].mean(), rel=0.01)


def test_oxygen_only_while_reacting(water: Signals) -> None:
    for number in (1, 2, 3):
        reacting = water[f"YS-51{number}"] == REACT
        assert np.median(water[f"AIT-51{number}"][reacting]) > 1.5
        assert water[f"AIT-51{number}"][~reacting].max() < 0.5


def test_pump_down_test_of_the_handbook() -> None:
    """Flow of a pump [gpm] = length x width x drop x 7.48 / minutes, without inflow.

    Operator-mathematics worked example: 15 x 12 ft, 3 ft in 30 min = 134.64 gpm.
    """
    well = Station(9, 1.0, 1.0, 15 * 12 * 7.48, off_ft=2.0, on_ft=6.0, lag_ft=8.0, pump_gpm=134.64)
    calendar = make_calendar(1, 5)
    inflow = np.where(np.arange(len(calendar)) < 12, 130.0, 0.0)
    level, pumped, running = wet_well(well, calendar, inflow)
    assert running[12] == 1.0
    assert pumped[12:18] == pytest.approx(134.64)
    assert level[12] - level[18] == pytest.approx(3.0, abs=1e-6)


def test_a_wet_well_does_not_depend_on_the_step() -> None:
    station = lift.STATIONS[0]
    fine, coarse = make_calendar(1, 1), make_calendar(1, 15)
    levels = [wet_well(station, c, np.full(len(c), 95.0))[0] for c in (fine, coarse)]
    assert np.allclose(levels[0][::15], levels[1], atol=1e-6)


def test_no_wet_well_gains_or_loses_water() -> None:
    station, calendar = lift.STATIONS[3], make_calendar(1, 15)
    inflow = 60.0 + 40.0 * np.sin(np.arange(len(calendar)) / 9.0)
    level, pumped, _ = wet_well(station, calendar, inflow)
    assert np.allclose(np.diff(level), changes(calendar, inflow - pumped, station.gal_per_ft), atol=1e-9)


def test_influent_and_run_time_rise_together(water: Signals) -> None:
    flow = water["FIT-501"][: len(water["FIT-501"]) // 96 * 96].reshape(-1, 96).mean(axis=1)
    running = water["YS-401"][: len(water["YS-401"]) // 96 * 96].reshape(-1, 96).mean(axis=1)
    assert np.corrcoef(flow, running)[0, 1] > 0.7


def test_the_feed_follows_the_pounds_formula(water: Signals) -> None:
    """lb/day = MGD x mg/L x 8.34 (handbook); 0.8 % hypochlorite holds 0.0667 lb/gal; doses of 1 to 2 mg/L.

    The dose is common practice for clean lake water, no source.
    """
    assert pytest.approx(8.34 * 0.008, rel=1e-3) == chlorine.POUNDS_PER_GALLON
    dose = water["FIT-132"] * 24.0 * 0.0667 / (water["FIT-101"] * 8.34)
    assert 1.0 < np.quantile(dose, 0.05) < np.quantile(dose, 0.95) < 2.0
