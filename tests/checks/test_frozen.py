"""Frozen: what it says of a run that `pipeline.baseline.stuck` found."""

from datetime import timedelta

import numpy as np
import pytest

from pipeline.clock import Period
from pipeline.table import VERDICTS, empty
from pipeline.triage import asking, of_period


@pytest.fixture(scope="module")
def frozen(make):
    """A lively pH of 90 days that repeats itself from day 80 on for so many readings."""

    def build(readings, after=0, bad_after=0):
        times = make.grid(make.local(2026, 1, 5), 80 + (readings + after + bad_after) / 96 - 1 / 24)
        value = np.round(7.2 + make.noise(np.random.default_rng(5), len(times), 0.9, 0.1), 2)
        count = len(times)
        begin = count - readings - after - bad_after
        value[begin : begin + readings] = 6.9
        value[begin + readings :] = 7.5 + 0.01 * (np.arange(after + bad_after) % 5)
        return make.case(make.frame(times, value, good=np.arange(count) < count - bad_after)), times[begin]

    return build


def test_one_that_lasts_is_for_acting_on(frozen, find):
    case, begin = frozen(60)
    (finding,) = find("frozen", case)
    assert (finding.start, finding.end, finding.severity) == (begin, None, "act")
    assert "6.90" in finding.evidence and "15 h" in finding.evidence and "60 readings" in finding.evidence


@pytest.mark.parametrize("after", [1, 2, 20])
def test_one_different_reading_ends_it(frozen, find, after):
    case, begin = frozen(60, after)
    (finding,) = find("frozen", case)
    assert finding.end is not None
    assert (finding.end - begin).total_seconds() == 60 * 900
    assert finding.severity == "watch"


def test_a_day_of_it_is_for_acting_on_even_when_over(frozen, find):
    case, _ = frozen(96, after=10)
    (finding,) = find("frozen", case)
    assert finding.severity == "act" and not finding.is_open
    assert find("frozen", frozen(95, after=10)[0])[0].severity == "watch"


def test_bad_readings_after_it_end_what_is_known_of_it(frozen, find):
    case, begin = frozen(60, bad_after=20)
    (finding,) = find("frozen", case)
    assert (finding.end - begin).total_seconds() == pytest.approx(60 * 900, abs=900)


def test_one_that_is_over_and_hardly_longer_than_usual_is_for_the_record(frozen, find):
    """Half as long again as the longest usual run asks for a visit."""
    case, _ = frozen(60, after=10)
    usual = case.stuck["allowed_minutes"][0] / 15
    severities = {k: find("frozen", frozen(round(k * usual), after=10)[0])[0].severity for k in (1.3, 1.6)}
    assert severities == {1.3: "note", 1.6: "watch"}


@pytest.fixture(scope="module")
def returning(make):
    """A lively pH that sticks for ten hours on some of its last days and moves for `after` hours since."""

    def build(days, after, visit=None):
        hours = after + 10
        times = make.grid(make.local(2026, 1, 5), 80 + max(days) + hours / 24)
        value = np.round(7.2 + make.noise(np.random.default_rng(5), len(times), 0.9, 0.1), 2)
        end = len(times) - round(after * 4)
        for back in days:
            stop = end - round(back * 96)
            value[stop - 40 : stop] = 6.9
        at = [] if visit is None else [times[-1] - timedelta(hours=visit)]
        return make.case(make.frame(times, value), services=make.services(at, "cleaning"))

    return build


@pytest.mark.parametrize(
    ("days", "after", "visit", "is_over"),
    [
        ((0, 1, 2), 1.5, None, False),  # it has come back every day; an hour of peace ends nothing
        ((0, 1, 2), 47, None, False),
        ((0, 1, 2), 49, None, True),
        ((0, 1, 2), 20, 5, True),  # cleaned since
        ((0, 1, 2), 20, 21, False),  # cleaned before it came back
        ((0,), 1.5, None, True),  # once
        ((0, 5), 1.5, None, True),  # now and then
    ],
)
def test_what_comes_back_daily_is_over_when_it_stayed_away_for_two_days(
    find, returning, days, after, visit, is_over
):
    """Common practice, no source."""
    (finding,) = find("frozen", returning(days, after, visit))
    assert finding.is_open is not is_over


def test_what_comes_back_stays_on_the_list_of_a_week_that_ended_between_two_runs(find, returning, make):
    """Four evenings of ten hours each are for acting on; the last ended an hour before the week did."""
    case = returning((0, 1, 2, 3), 1)
    week = Period("W", case.as_of - timedelta(days=2), case.as_of, make.zone)
    (finding,) = of_period(find("frozen", case), week, empty(VERDICTS))
    assert finding.severity == "act" and finding.status == "ongoing"
    assert asking([finding], {case.tag.tag: case}) == [finding]
