"""Scoring of labelled records on invented truth: all found is 1, none is 0, late or elsewhere is wrong."""

from datetime import UTC, datetime, timedelta

import pytest

from benchmarks.open_records_scoring import (
    Event,
    Told,
    clean_days,
    event_scores,
    f1,
    is_found,
    recall,
    sort_out,
)

START = datetime(2020, 6, 1, tzinfo=UTC)
DAY = timedelta(days=1)


def event(kind: str, begin: float, end: float, tag: str = "AIT-4", is_sure: bool = True) -> Event:
    kinds = frozenset({kind}) if kind else frozenset()
    return Event(tag, kinds, START + begin * DAY, START + end * DAY, is_sure)


def told(
    kind: str, known: float, end: float | None = None, tag: str = "AIT-4", is_listed: bool = True
) -> Told:
    begin = START + (known - 1) * DAY
    return Told(tag, kind, START + known * DAY, begin, None if end is None else START + end * DAY, is_listed)


EVENTS = [event("fouling", 10, 20), event("block", 30, 31), event("malfunction", 40, 40.5, tag="AIT-1")]
ALL = [told("drift", 15, 21), told("gap", 31, 31), told("noisy", 41, 42, tag="AIT-1")]


def test_a_detector_that_finds_all_and_nothing_else() -> None:
    assert [recall(EVENTS, ALL, kind).value for kind in ("fouling", "block", "malfunction")] == [1.0] * 3
    parts = sort_out(EVENTS, [], ALL)
    assert (len(parts.right), parts.open, parts.wrong) == (3, (), ())
    assert (parts.precision.value, parts.precision.n) == (1.0, 2)  # a gap is no feat


def test_a_detector_that_finds_nothing() -> None:
    assert [recall(EVENTS, [], kind).value for kind in ("fouling", "block", "malfunction")] == [0.0] * 3
    assert sort_out(EVENTS, [], []).precision.value is None


def test_a_detector_that_speaks_twenty_days_later_is_wrong_each_time() -> None:
    late = [told(one.kind, (one.known - START) / DAY + 20, None, one.tag) for one in ALL[:1] + ALL[2:]]
    assert recall(EVENTS, late, "fouling").value == 0.0
    assert recall(EVENTS, late, "malfunction").value == 0.0
    assert len(sort_out(EVENTS, [], late).wrong) == 2


def test_another_tag_and_another_kind_of_finding_do_not_count() -> None:
    assert not is_found(EVENTS[0], [told("drift", 15, 21, tag="AIT-3")])
    assert not is_found(EVENTS[0], [told("gap", 15, 21)])  # nothing is missing from a fouled probe's record
    assert len(sort_out(EVENTS, [], [told("gap", 15, 21)]).wrong) == 1


def test_the_step_of_the_swap_after_a_rejected_deployment_names_it() -> None:
    deployment = event("rejected", 10, 18)
    assert is_found(deployment, [told("step", 21)])  # known at the end of the second day after the swap
    assert not is_found(deployment, [told("step", 26)])


def test_what_stays_open_names_the_next_event_too_but_is_right_only_once() -> None:
    spikes = [event("spikes", 10, 10.1), event("spikes", 20, 20.1)]
    lasting = [told("spikes", 11, 25)]
    assert recall(spikes, lasting, "spikes").value == 1.0
    assert len(sort_out(spikes, [], lasting).right) == 1


def test_suspect_for_no_named_reason_is_open_and_rejected_is_right() -> None:
    entry = [told("step", 12)]
    assert len(sort_out([event("", 10, 20, is_sure=False)], [], entry).open) == 1
    assert len(sort_out([event("", 10, 20, is_sure=True)], [], entry).right) == 1


def test_an_error_that_the_next_probe_showed_is_open() -> None:
    swap = [event("drift", 12, 12, is_sure=False)]
    assert len(sort_out([], swap, [told("step", 13)]).open) == 1
    assert len(sort_out([], swap, [told("frozen", 13)]).wrong) == 1


def test_brief_events_can_be_left_out() -> None:
    events = [event("malfunction", 10, 10.01), event("malfunction", 20, 20.5)]
    assert recall(events, [], "malfunction").n == 2
    assert recall(events, [], "malfunction", timedelta(hours=2)).n == 1


def test_only_what_was_listed_is_held_against_it() -> None:
    assert sort_out([], [], [told("gap", 5, 6, is_listed=False)]).wrong == ()


def test_clean_days_leave_out_each_event_with_its_margins_once() -> None:
    until = START + 100 * DAY
    assert clean_days(START, until, []) == pytest.approx(100.0)
    # A day before and three after: 9 to 23; the second lies inside.
    both = [event("fouling", 10, 20), event("drift", 12, 15)]
    assert clean_days(START, until, both) == pytest.approx(86.0)


def spans(*minutes: tuple[int, int]) -> list[tuple[datetime, datetime]]:
    return [(START + timedelta(minutes=a), START + timedelta(minutes=b)) for a, b in minutes]


def test_event_scores_of_a_perfect_a_silent_and_a_shifted_detector() -> None:
    events = spans((100, 120), (400, 420), (900, 905))
    assert f1(*event_scores(events, events)) == 1.0
    assert f1(*event_scores(events, [])) == 0.0
    shifted = [(a + timedelta(hours=1), b + timedelta(hours=1)) for a, b in events]
    assert f1(*event_scores(events, shifted)) == 0.0


def test_event_scores_by_hand() -> None:
    """Two of three events, one of four alarms wrong, one event hit twice: recall 2/3, precision 3/4."""
    events = spans((100, 120), (400, 420), (900, 905))
    alarms = spans((105, 106), (130, 131), (400, 500), (700, 710))
    found, right = event_scores(events, alarms)
    assert (found.value, right.value) == (2 / 3, 3 / 4)
    assert f1(found, right) == pytest.approx(2 * (2 / 3) * (3 / 4) / (2 / 3 + 3 / 4))


def test_an_alarm_that_is_over_before_the_event_finds_nothing() -> None:
    found, _ = event_scores(spans((100, 120)), spans((80, 99)))
    assert found.hits == 0
