"""Standstill: tags that repeat themselves from the same moment on, told once."""

from datetime import date, timedelta

import pytest

from pipeline.neighbours.standstill import FEWEST_TAGS

DAY = 96
TAGS = tuple(f"LIT-{k}" for k in range(1, 7))


@pytest.fixture(scope="module")
def six(town, lively):
    """Six levels of 90 days; some stand still from day 80, 10:00, for so many readings."""

    def build(still, readings=40, day=None, apart=0, area=None, twins=None):
        shown = {name: lively(k, 90, level=10.0 + 3 * k) for k, name in enumerate(TAGS)}
        for k, name in enumerate(still):
            begin = 80 * DAY + 40 + k * apart
            shown[name][begin : begin + readings] = shown[name][begin]
        tags = {
            name: {"area": (area or {}).get(name, "plant"), "twin": (twins or {}).get(name, "")}
            for name in TAGS
        }
        return town(shown, day, tags=tags)

    return build


def test_many_at_once_are_one_finding_that_names_them_all(six, found, make):
    (finding,) = found(six(TAGS), ("frozen",))
    assert (finding.tag, finding.others) == (TAGS[0], TAGS[1:])
    # 10:00 standard time, the clocks went forward; one of them happened to show its last number before.
    begin = make.local(2026, 3, 22, 11)
    assert begin - timedelta(minutes=15) <= finding.start <= begin
    assert all(name in finding.evidence for name in TAGS)
    assert finding.end == begin + timedelta(hours=10)


def test_a_sample_early_or_late_is_still_the_same_moment(six, found):
    (finding,) = found(
        six(TAGS[: FEWEST_TAGS - 1], apart=1, area={name: name for name in TAGS[2:]}), ("frozen",)
    )
    assert len(finding.others) == 1


def test_an_hourly_record_stops_with_the_others(town, found, lively):
    """A sheet of hourly readings beside a recorder of 15 minutes: one message link, one standstill."""
    shown = {name: lively(k, 90, level=10.0 + 3 * k) for k, name in enumerate(TAGS[:3])}
    hourly = TAGS[3]
    shown[hourly] = lively(3, 90, level=19.0, step_s=3600)
    for name, values in shown.items():
        per_day = 24 if name == hourly else DAY
        begin = 80 * per_day
        values[begin : begin + per_day] = values[begin]
    (finding,) = found(town(shown, tags={hourly: {"step_s": 3600}}), ("frozen",))
    assert {finding.tag, *finding.others} == set(shown)


def test_two_of_six_are_two_troubles(six, found):
    assert [one.others for one in found(six(TAGS[:2]), ("frozen",))] == [(), ()]


def test_hours_apart_they_are_troubles_of_their_own(six, found):
    assert [one.others for one in found(six(TAGS[:4], apart=8), ("frozen",))] == [()] * 4


def test_half_of_a_small_area_is_enough(six, found):
    areas = dict.fromkeys(TAGS[:4], "wells") | dict.fromkeys(TAGS[4:], "lift")
    (finding,) = found(six(TAGS[:2], area=areas), ("frozen",))
    assert finding.others == (TAGS[1],)


def test_twins_that_rest_together_are_no_standstill(six, found):
    areas = dict.fromkeys(TAGS[:4], "wells") | dict.fromkeys(TAGS[4:], "lift")
    twins = {TAGS[0]: TAGS[1], TAGS[1]: TAGS[0]}
    assert all(not one.others for one in found(six(TAGS[:2], area=areas, twins=twins), ("frozen",)))


def test_together_they_are_found_sooner_than_any_of_them_alone(six, found):
    assert found(six(TAGS, readings=6), ("frozen",))
    assert not found(six(TAGS[:1], readings=6), ("frozen",))


def test_a_plant_that_stops_is_no_standstill(town, found, lively):
    """Flows fall to nothing at once when the pumps rest, night after night or for a week."""
    shown = {f"FIT-{k}": lively(k, 90, level=100.0 + 20 * k) for k in range(4)}
    for values in shown.values():
        values[80 * DAY : 85 * DAY] = 0.0
    assert all(one.others == () for one in found(town(shown), ("frozen",)))


def test_living_signals_never_stand_still_together(six, found):
    assert found(six(()), ("frozen",)) == []


def test_it_looks_the_same_from_any_later_day(six, found):
    whole = {one.finding_id for one in found(six(TAGS, 200), ("frozen",))}
    assert whole
    for k in (79, 80, 81, 82, 85):
        day = date(2026, 1, 1) + timedelta(days=k)
        known = {one.finding_id for one in found(six(TAGS, 200, day), ("frozen",))}
        assert known == {name for name in whole if name[-10:] < day.isoformat()}
