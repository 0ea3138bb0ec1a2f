"""Stuck: what is allowed is learned from earlier blocks, and never changes afterwards."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.baseline.stuck import pauses, resting_below, stuck_of

STEP = timedelta(minutes=15)


@pytest.fixture(scope="module")
def record(make):
    """A lively pH over 140 days, flat for an hour now and then and for one night near the end."""
    random = np.random.default_rng(11)
    times = make.grid(make.local(2026, 1, 5), 140)
    value = np.round(7.2 + make.noise(random, len(times), 0.9, 0.08), 2)
    for start in random.integers(0, 120 * 96, 30):
        value[start : start + 4] = value[start]
    value[130 * 96 : 130 * 96 + 48] = value[130 * 96]
    return times, value


def _runs(make, times, value, sound=True):
    marks = pl.Series("sound", np.broadcast_to(sound, len(times)).copy())
    return stuck_of(pauses(pl.DataFrame({"time": times, "value": value, "sound": marks}), STEP, make.zone))


def test_a_flat_night_is_found_to_the_reading(make, record):
    times, value = record
    found = _runs(make, times, value)
    assert found.height == 1
    run = found.row(0, named=True)
    assert run["start"] == times[130 * 96]
    assert run["end"] == times[130 * 96 + 48]
    assert run["readings"] >= 48
    # It gives itself away with the first reading that its past does not allow.
    assert run["crossed"] == run["start"] + timedelta(minutes=run["allowed_minutes"])


def test_the_ordinary_flat_hours_are_not_news(make, record):
    times, value = record
    assert _runs(make, times[: 125 * 96], value[: 125 * 96]).height == 0


def test_nothing_is_judged_before_something_is_learned(make):
    times = make.grid(make.local(2026, 1, 5), 20)
    assert _runs(make, times, np.full(len(times), 7.0)).height == 0


def test_a_thinned_out_record_is_not_judged(make):
    """A recorder that stores only changes larger than its dead band repeats itself by design."""
    random = np.random.default_rng(2)
    times = make.grid(make.local(2026, 1, 5), 140)
    walk = 7.2 + make.noise(random, len(times), 0.98, 0.1)
    value = np.round(walk / 0.1) * 0.1
    value[-96:] = value[-96]
    assert (np.diff(value) == 0).mean() > 0.6
    assert _runs(make, times, value).height == 0


def test_what_is_not_sound_breaks_no_record(make, record):
    """Readings out of state are left out: an analyser of an idle filter may stand still."""
    times, value = record
    sound = np.ones(len(times), bool)
    sound[130 * 96 - 1 : 130 * 96 + 49] = False
    assert _runs(make, times, value, sound).height == 0


@pytest.mark.parametrize("cut", [130 * 96 + 10, 130 * 96 + 20, 131 * 96, 135 * 96, 139 * 96])
def test_later_readings_change_nothing(make, record, cut):
    times, value = record
    whole = _runs(make, times, value)
    known = whole.filter(pl.col("crossed") < times[cut])
    cut_off = _runs(make, times[:cut], value[:cut])
    assert cut_off.select("start", "crossed", "allowed_minutes").equals(
        known.select("start", "crossed", "allowed_minutes")
    )


def test_a_run_across_a_block_teaches_the_same_however_far_one_sees(make):
    """A run that began before a block lengthens while the block goes on; no bar may move with it."""
    random = np.random.default_rng(5)
    times = make.grid(make.local(2026, 1, 5), 140)
    value = np.round(7.2 + make.noise(random, len(times), 0.9, 0.08), 2)
    block = make.local(2026, 4, 13)
    assert (block.date() - date(1970, 1, 5)).days % 28 == 0
    edge = times.search_sorted(block)
    for start in (edge - 400, edge - 300, edge - 5):  # the third longest decides what is usual
        value[start : start + 30] = 5.0
    value[edge + 200 : edge + 260] = 6.0
    value[edge + 600 : edge + 660] = 6.0
    whole = _runs(make, times, value)
    assert whole.filter(pl.col("start") >= block).height == 2
    for cut in range(edge, edge + 700, 20):
        part = _runs(make, times[:cut], value[:cut])
        known = whole.filter(pl.col("crossed") < times[cut])
        assert part["allowed_minutes"].to_list() == known["allowed_minutes"].to_list()
        assert part["crossed"].to_list() == known["crossed"].to_list()


@pytest.mark.parametrize(
    ("measures", "rest"), [("feed", 0.4), ("flow", 0.4), ("level", None), ("chlorine", None)]
)
def test_what_hardly_flows_rests(make, measures, rest):
    """A pump without prime shows next to nothing, and no noise: common practice, no source."""
    assert resting_below(make.tag(measures=measures, unit="gph", low=0.0, high=20.0)) == rest


def test_a_stuck_filter_is_stuck_through_its_rests(make, record):
    """The same before, while and after a filter rests stood still; its rests make that no longer."""
    times, value = record
    value, sound = value.copy(), np.ones(len(times), bool)
    begin = 120 * 96
    value[begin : begin + 60] = 7.11
    sound[begin + 10 :: 20], sound[begin + 11 :: 20], sound[begin + 12 :: 20] = False, False, False
    (run,) = _runs(make, times[: begin + 80], value[: begin + 80], sound[: begin + 80]).iter_rows(named=True)
    assert (run["start"], run["end"]) == (times[begin], times[begin + 60])
    assert run["readings"] == sound[begin : begin + 60].sum()


@pytest.mark.parametrize(("while_it_rests", "lengths"), [(7.12, [12, 12]), (7.11, [24])])
def test_another_reading_while_it_rests_ends_it(make, record, while_it_rests, lengths):
    times, value = record
    value, sound = value.copy(), np.ones(len(times), bool)
    begin = 120 * 96
    value[begin : begin + 27] = 7.11
    value[begin + 12 : begin + 15] = while_it_rests
    sound[begin + 12 : begin + 15] = False
    found = _runs(make, times[: begin + 40], value[: begin + 40], sound[: begin + 40])
    assert found["readings"].to_list() == lengths
