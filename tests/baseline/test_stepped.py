"""Stepped: what was recorded on change, read off at steps, is what a record at intervals would have held."""

from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.baseline.stepped import is_stepped, stepped
from pipeline.casebook import case_of
from pipeline.checks import frozen
from pipeline.facts import SPANS
from pipeline.table import CALIBRATIONS, empty

HEARTBEAT = 4
"""Steps after which the recorder of these tests speaks though nothing has changed."""

STUCK = 150


def _on_change(values):
    """Which readings a recorder keeps that writes every change, and a heartbeat."""
    keep, last = [], 0
    for row, value in enumerate(values):
        if row == 0 or value != values[row - 1] or row - last >= HEARTBEAT:
            keep.append(row)
            last = row
    return keep


@pytest.fixture(scope="module")
def changing(make):
    return make.tag(recording="on change", heartbeat_s=HEARTBEAT * 900.0)


@given(st.lists(st.sampled_from([1.0, 2.0, 3.0]), min_size=1, max_size=200))
def test_it_gives_back_what_was_left_out(make, changing, values):
    """A recorder without a dead band loses nothing: by definition of recording on change."""
    times = make.grid(make.local(2026, 3, 7), len(values) / 96)  # across the spring night
    whole = pl.DataFrame({"time": times, "value": values, "good": True})
    keep = _on_change(values)
    found = stepped(changing, whole[keep])
    expected = whole[: keep[-1] + 1]  # of the time after its last word nothing is said
    assert found.equals(expected)


def test_nothing_stands_after_a_missed_heartbeat(make, changing):
    """Four steps and the one that is forgiven: from then on nobody knows."""
    start = make.local(2026, 1, 5)
    times = pl.Series("time", [start, start + timedelta(hours=6)])
    found = stepped(changing, pl.DataFrame({"time": times, "value": [1.0, 2.0], "good": True}))
    at = [(time - start) / timedelta(minutes=15) for time in found["time"]]
    assert at == [0, 1, 2, 3, 4, 5, 24]


def test_without_a_heartbeat_a_value_stands_a_day(make):
    start = make.local(2026, 1, 5)
    times = pl.Series("time", [start, start + timedelta(days=3)])
    tag = make.tag(recording="on change")
    found = stepped(tag, pl.DataFrame({"time": times, "value": [1.0, 2.0], "good": True}))
    assert found["time"][-2] == start + timedelta(days=1) and found["time"][-1] == times[1]


def test_a_bad_reading_ends_what_stood(make, changing):
    start = make.local(2026, 1, 5)
    times = pl.Series("time", [start, start + timedelta(minutes=30), start + timedelta(hours=1)])
    samples = pl.DataFrame({"time": times, "value": [1.0, None, 2.0], "good": [True, False, True]})
    assert stepped(changing, samples)["good"].to_list() == [True, True, False, False, True]


def test_changes_to_the_second_are_read_off_by_the_minute(make):
    tag = make.tag(recording="on change", step_s=1.0, heartbeat_s=3600.0)
    start = make.local(2026, 1, 5)
    times = pl.Series("time", [start + timedelta(seconds=second) for second in (7, 61, 119, 200)])
    found = stepped(tag, pl.DataFrame({"time": times, "value": [1.0, 2.0, 3.0, 4.0], "good": True}))
    minutes = [(time - start) / timedelta(minutes=1) for time in found["time"]]
    assert (minutes, found["value"].to_list()) == ([1, 2, 3], [1.0, 3.0, 3.0])


def test_pumps_and_intervals_are_taken_as_they_are(make):
    assert not is_stepped(make.tag(measures="state", recording="on change"))
    assert not is_stepped(make.tag())


@pytest.fixture(scope="module")
def pair(make):
    """The same lively pH with a stuck day and weekly grabs, recorded at intervals and on change."""
    random = np.random.default_rng(7)
    times = make.grid(make.local(2026, 1, 5), 200)
    value = np.round(7.2 + make.noise(random, len(times), 0.9, 0.05), 2)
    value[STUCK * 96 : (STUCK + 1) * 96] = value[STUCK * 96]
    grabs = make.events(times[40 :: 7 * 96], value[40 :: 7 * 96])
    whole = pl.DataFrame({"time": times, "value": value, "good": True})
    on_change = make.tag(recording="on change", heartbeat_s=HEARTBEAT * 900.0)
    end = times[-1] + timedelta(minutes=15)
    always = pl.DataFrame({"start": [times[0]], "end": [end]}, SPANS)

    def case(tag, samples):
        never, services = empty(SPANS), empty(CALIBRATIONS)
        return case_of(tag, None, make.zone, end, samples, always, never, grabs, services)

    return case(make.tag(), whole), case(on_change, whole[_on_change(value.tolist())])


def test_the_same_is_known_of_both(pair):
    """What an instrument shows does not depend on how sparingly it is written down."""
    at_intervals, on_change = pair
    days = on_change.daily.height - 1  # the last is cut where the recorder last spoke
    assert on_change.daily[:days].equals(at_intervals.daily[:days])
    assert on_change.pairs.equals(at_intervals.pairs) and on_change.pairs.height == 29
    assert on_change.readings.height < at_intervals.readings.height


def test_a_stuck_day_is_found_in_both(pair):
    for case in pair:
        (finding,) = frozen.find(case, frozen.Settings())
        assert finding.start == case.as_of - timedelta(days=200 - STUCK)
        assert timedelta(days=1) <= finding.end - finding.start <= timedelta(days=1, minutes=15)
