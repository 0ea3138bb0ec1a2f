"""Troubles: what lasted at the same time is one, told by what can tell most."""

import numpy as np

from pipeline.evidence.bar import Spell
from pipeline.evidence.troubles import together
from pipeline.spc.onset import weighed


def _spell(crossed, closed=None, matters=None):
    return Spell(
        crossed, matters, closed, weighed(np.arange(3.0), np.ones(3), 0.1).course(), False, 3, crossed
    )


def test_spells_that_overlap_are_one_trouble_dated_by_the_first():
    (one,) = together([("lab grab", _spell(20.0, matters=30.0)), ("own history", _spell(10.0, 25.0))])
    assert (one.crossed, one.matters_since, one.closed) == (10.0, 30.0, None)
    assert one.told_by[0] == "lab grab"


def test_what_was_over_before_is_another():
    first, second = together([("lab grab", _spell(20.0)), ("own history", _spell(10.0, 20.0))])
    assert (first.closed, second.crossed) == (20.0, 20.0)


def test_what_matters_speaks_before_what_is_certain():
    (one,) = together([("lab grab", _spell(10.0)), ("own history", _spell(12.0, matters=14.0))])
    assert one.told_by[0] == "own history" and one.matters_since == 14.0
    (two,) = together(
        [("own history", _spell(10.0, matters=11.0)), ("twin instrument", _spell(12.0, matters=14.0))]
    )
    assert two.told_by[0] == "twin instrument" and two.matters_since == 11.0


def test_later_spells_never_move_an_earlier_day():
    """Put together as known on each day, the crossings of before stay as they were."""
    every = [
        ("lab grab", _spell(10.0, 50.0, 40.0)), ("own history", _spell(30.0, 45.0)),
        ("twin instrument", _spell(48.0, 90.0, 60.0)), ("lab grab", _spell(95.0)),
    ]  # fmt: skip
    whole = [(t.crossed, t.matters_since) for t in together(every)]
    assert whole == [(10.0, 40.0), (95.0, None)]
    for day in range(11, 100, 7):
        known = [
            (name, _spell(s.crossed, s.closed if s.closed and s.closed <= day else None,
                          s.matters_since if s.matters_since and s.matters_since <= day else None))
            for name, s in every if s.crossed <= day
        ]  # fmt: skip
        assert [t.crossed for t in together(known)] == [c for c, _ in whole if c <= day]
