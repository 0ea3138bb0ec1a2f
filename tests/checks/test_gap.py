"""Gap: how long nothing good was there, and since when that is worth a word."""

from datetime import date

import numpy as np
import pytest

COUNT = 3 * 96


def _case(make, missing=(), bad=(), as_of=None, tag=None):
    times = make.grid(make.local(2026, 3, 2), 3)
    keep = [k for k in range(COUNT) if k not in missing]
    good = [k not in bad for k in keep]
    value = 7.0 + np.array(keep) % 7 * 0.01
    return make.case(make.frame(times.gather(keep), value, good=good), tag=tag, as_of=as_of)


@pytest.mark.parametrize(("missing", "found"), [(8, 0), (9, 1)])
def test_two_hours_are_allowed_and_not_a_reading_more(make, find, missing, found):
    assert len(find("gap", _case(make, missing=range(100, 100 + missing)))) == found


def test_nothing_arrived(make, find):
    (finding,) = find("gap", _case(make, missing=range(100, 120)))
    # The reading of 00:45 stands until 01:00; the next good one is that of 06:00.
    assert (finding.start, finding.end) == (make.local(2026, 3, 3, 1), make.local(2026, 3, 3, 6))
    assert finding.crossed == date(2026, 3, 3)
    assert finding.severity == "note"
    assert "5 h" in finding.evidence and "none was stored" in finding.evidence


def test_marked_bad_is_as_good_as_nothing_and_is_said(make, find):
    (finding,) = find("gap", _case(make, bad=range(100, 120)))
    assert "20 readings arrived marked bad" in finding.evidence


def test_what_lasts_is_open(make, find):
    (finding,) = find("gap", _case(make, missing=range(200, COUNT), as_of=make.local(2026, 3, 5)))
    assert (finding.end, finding.severity) == (None, "watch")


def test_a_gap_across_midnight_is_of_the_day_on_which_it_grew_long(make, find):
    (finding,) = find("gap", _case(make, missing=range(92, 110)))  # from 23:00: two hours are over at 01:00
    assert finding.crossed == date(2026, 3, 3)
    assert find("gap", _case(make, missing=range(92, 110), as_of=make.local(2026, 3, 3))) == []


def test_a_rarely_recorded_tag_may_miss_some_steps(make, find):
    hourly = make.tag(step_s=3600.0)
    times = make.grid(make.local(2026, 3, 2), 3, 3600)
    for missing, found in ((4, 0), (5, 1)):
        keep = [k for k in range(72) if not 30 <= k < 30 + missing]
        case = make.case(make.frame(times.gather(keep), 7.0 + np.array(keep) * 0.01), tag=hourly)
        assert len(find("gap", case)) == found


def test_recorded_on_change_has_no_gaps(make, find):
    assert find("gap", _case(make, missing=range(100, 200), tag=make.tag(recording="on change"))) == []


def test_never_a_good_reading_is_a_gap_from_the_first_on(make, find):
    (finding,) = find("gap", _case(make, bad=range(COUNT)))
    assert (finding.start, finding.end) == (make.local(2026, 3, 2), None)
    assert finding.crossed == date(2026, 3, 2)
