"""Copies: found when two tags show the same numbers change after change, and by nothing less."""

from datetime import date, timedelta

import numpy as np
import pytest

DAY = 96


@pytest.fixture(scope="module")
def two(town, lively):
    """Two levels of 20 days; the second shows the first from day 10 noon on, for so many hours."""

    def build(hours, day=None, apart=6.0, other=None):
        one, two = lively(1, 20), lively(2, 20, level=20.0 + apart)
        begin = 10 * DAY + 48
        two[begin : begin + round(hours * 4)] = one[begin : begin + round(hours * 4)]
        return town({"LIT-1": one, "LIT-2": two} | (other or {}), day)

    return build


def test_a_copy_is_told_of_the_tag_that_jumped_to_the_others_numbers(two, found, make):
    (finding,) = found(two(48), ("copied",))
    assert (finding.tag, finding.start) == ("LIT-2", make.local(2026, 1, 11, 12))
    assert finding.end == make.local(2026, 1, 13, 12)
    assert "LIT-1" in finding.evidence and "its own signal is missing" in finding.evidence
    # Noon is 19:00 UTC; the third whole stretch of three hours of UTC ends at 06:00, 23:00 on the wall.
    assert finding.crossed == date(2026, 1, 11)


def test_one_that_lasts_is_for_acting_on(two, found):
    (finding,) = found(two(24 * 20), ("copied",))
    assert (finding.severity, finding.end) == ("act", None)


def test_without_a_jump_nobody_is_accused(two, found):
    (finding,) = found(two(48, apart=0.0), ("copied",))
    if "cannot be told" in finding.evidence:
        assert finding.severity == "watch" and finding.others == ("LIT-1",)
    else:
        pytest.fail("the two stood where the copy began; nothing tells who copied")


@pytest.mark.parametrize("hours", [1, 3, 6])
def test_a_few_equal_hours_are_no_copy(two, found, hours):
    assert found(two(hours), ("copied",)) == []


def test_two_that_stand_still_at_the_same_number_are_no_copy(town, found, lively):
    """Two pumps at rest both show 0, two tanks may both be full."""
    one, two = lively(1, 20), lively(2, 20)
    for values in (one, two):
        values[800:1600] = 0.0
    assert found(town({"FIT-1": one, "FIT-2": two}), ("copied",)) == []


def test_one_meeting_in_long_rest_is_no_copy(town, found, lively):
    """Both rest at nothing for a day, and for three hours of it happen to move alike."""
    one, two = lively(1, 20), lively(2, 20)
    for values in (one, two):
        values[800:896] = 0.0
    one[840:856] = two[840:856] = lively(3, 1)[:16]
    assert found(town({"FIT-1": one, "FIT-2": two}), ("copied",)) == []


def test_two_coarse_thermometers_in_one_water_are_no_copy(town, found, make):
    """A tenth of a degree and little noise: equal readings are common, equal changes are not."""
    random = np.random.default_rng(4)
    water = 12.0 + make.noise(random, 60 * DAY, 0.995, 1.0)
    shown = {f"TIT-{k}": np.round(water + random.normal(0, 0.04, len(water)), 1) for k in range(4)}
    equal = np.mean(shown["TIT-0"] == shown["TIT-1"])
    assert equal > 0.5, "the case is worthless unless they are often equal"
    assert found(town(shown, tags={name: {"unit": "degC"} for name in shown}), ("copied",)) == []


def test_one_signal_under_two_names_is_for_the_record(town, found, lively):
    values = lively(3, 20)
    (finding,) = found(town({"LIT-1": values, "LIT-2": values.copy()}), ("copied",))
    assert finding.severity == "note" and "two names" in finding.evidence


def test_the_unit_is_of_no_account(town, found, lively):
    """A channel that is wired twice knows no unit."""
    one, two = lively(1, 20, level=7.0), lively(2, 20, level=3.0)
    two[900:1400] = one[900:1400]
    tags = {"AIT-1": {"measures": "ph", "unit": "pH"}, "AIT-2": {"measures": "chlorine", "unit": "mg/L"}}
    (finding,) = found(town({"AIT-1": one, "AIT-2": two}, tags=tags), ("copied",))
    assert finding.tag == "AIT-2"


def test_a_gap_in_one_of_them_does_not_end_it(two, found, town, lively):
    one, two = lively(1, 20), lively(2, 20, level=26.0)
    two[900:1600] = one[900:1600]
    two[1100:1110] = np.nan
    (finding,) = found(town({"LIT-1": one, "LIT-2": two}), ("copied",))
    assert finding.end - finding.start == timedelta(minutes=15 * 700)


def test_it_looks_the_same_from_any_later_day(two, found):
    whole = {one.finding_id for one in found(two(80), ("copied",))}
    for k in range(1, 12):
        day = date(2026, 1, 9) + timedelta(days=k)
        known = {one.finding_id for one in found(two(80, day), ("copied",)) if one.crossed < day}
        assert known == {name for name in whole if name[-10:] < day.isoformat()}
