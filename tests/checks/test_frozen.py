"""Frozen: what it says of a run that `pipeline.baseline.stuck` found."""

import numpy as np
import pytest


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
