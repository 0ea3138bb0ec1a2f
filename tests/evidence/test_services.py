"""Services: what as-found and as-left readings let foresee, worked by hand."""

import numpy as np
import pytest

from pipeline.evidence.bar import Bar, Chances
from pipeline.evidence.services import Found, foreseen

TOLERANCE = 0.2


def _bar(services, matters=0.85, seeded=0.9):
    return Bar(
        lambda day: TOLERANCE,
        lambda day: max(30.0 - (day - max(s for s in services if s <= day)), 4.5),
        services,
        chances=Chances(matters, seeded=seeded),
    )


def test_an_instrument_that_drifted_by_twice_its_tolerance_will_do_so_again():
    """0.4 pH in 30 days is 0.0133 a day: past 0.2 after 15 days, foreseen before that."""
    log = [Found(0.0, 0.05, 0.0), Found(30.0, 0.4, 0.0), Found(60.0, 0.4, 0.0)]
    once, again = foreseen(log, 88.0, _bar([0.0, 30.0, 60.0]))
    assert again.course.rate == pytest.approx(0.4 / 30)
    assert again.course.error == pytest.approx(0.4 / 30 * 28)
    assert 60.0 < again.matters_since < 75.0
    assert again.closed is None and again.is_past
    assert once.matters_since is None, "a single event, for all that is known: for the record"


def test_a_drift_that_turned_round_is_no_second_of_its_kind():
    log = [Found(0.0, 0.05, 0.0), Found(30.0, 0.4, 0.0), Found(60.0, -0.4, 0.0)]
    assert [spell.matters_since for spell in foreseen(log, 88.0, _bar([0.0, 30.0, 60.0]))] == [None, None]


def test_what_was_left_counts_against_what_is_found_next():
    """Left 0.1 high and found 0.15 high: 0.05 in a month is no more than sound instruments drift by."""
    assert foreseen([Found(0.0, 0.0, 0.1), Found(30.0, 0.15, 0.0)], 58.0, _bar([0.0, 30.0])) == []
    assert len(foreseen([Found(0.0, 0.0, -0.15), Found(30.0, 0.15, 0.0)], 58.0, _bar([0.0, 30.0]))) == 1


def test_half_a_tolerance_in_an_interval_is_how_sound_instruments_drift():
    """0.11 of 0.2 in two months: sure enough to be foreseen, and nothing unusual."""
    log = [Found(0.0, 0.0, 0.0), Found(60.0, 0.11, 0.0)]
    bar = _bar([0.0, 60.0], seeded=0.8)
    assert foreseen(log, 150.0, bar) == []
    assert len(foreseen([log[0], Found(60.0, 0.125, 0.0)], 150.0, bar)) == 1


def test_the_next_service_ends_it():
    log = [Found(0.0, 0.0, 0.0), Found(30.0, 0.4, 0.0), Found(60.0, 0.05, 0.0)]
    (spell,) = foreseen(log, 89.0, _bar([0.0, 30.0, 60.0]))
    assert spell.closed == 60.0


def test_nothing_is_foreseen_from_what_was_not_written_down():
    for hole in (Found(0.0, 0.0, np.nan), Found(0.0, np.nan, np.nan)):
        assert foreseen([hole, Found(30.0, 0.4, 0.0)], 58.0, _bar([0.0, 30.0])) == []
    assert foreseen([Found(0.0, 0.0, 0.0), Found(30.0, np.nan, 0.0)], 58.0, _bar([0.0, 30.0])) == []


def test_what_is_seen_not_to_go_on_is_given_up():
    """Foreseen 0.2 high after 15 days, and seen where the service left it, to 0.05: ten to one against it."""
    log = [Found(0.0, 0.0, 0.0), Found(30.0, 0.4, 0.0)]
    assert foreseen(log, 58.0, _bar([0.0, 30.0]), lambda day: (0.0, 0.05)) == []
    (spell,) = foreseen(log, 58.0, _bar([0.0, 30.0]), lambda day: (0.0, 0.05) if day > 42 else None)
    assert spell.closed is not None and 42.0 < spell.closed < 58.0
    (borne_out,) = foreseen(log, 58.0, _bar([0.0, 30.0]), lambda day: (0.4 / 30 * (day - 30), 0.05))
    assert borne_out.closed is None


def test_two_lines_of_one_visit_are_no_interval():
    assert foreseen([Found(0.0, 0.0, -0.3), Found(1.0, 0.3, 0.0)], 28.0, _bar([0.0, 1.0])) == []


@pytest.mark.parametrize("cut", range(31, 60, 4))
def test_later_days_change_no_crossing(cut):
    log = [Found(0.0, 0.0, 0.0), Found(30.0, 0.4, 0.0)]
    (whole,) = foreseen(log, 59.0, _bar([0.0, 30.0]))
    known = foreseen(log, float(cut), _bar([0.0, 30.0]))
    assert [s.crossed for s in known] == ([whole.crossed] if whole.crossed <= cut else [])
