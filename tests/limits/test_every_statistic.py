"""Every statistic: what is not known is never `within`, and a stretch not ended says so."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline import limits
from pipeline.parts import parts

# Inactivation has inputs of its own and the lab's samples are no record: test_inactivation.py and
# test_undetected.py ask the same of them.
STATISTICS = [
    name
    for name, part in sorted(parts(limits).items())
    if not hasattr(part, "RESTS_ON_SEGMENTS") and getattr(part, "BASES", ("trend",)) != ("lab",)
]
OF_A_MONTH = [name for name in STATISTICS if name.startswith("month")]
FIRST, LAST = date(2026, 6, 1), date(2026, 6, 30)
# Settings under which 7.2 plus or minus a little is well within.
GIVEN = {
    "low": 6.0,
    "high": 9.0,
    "allow": 5.0,
    "percentile": 95,
    "week_starts": "sunday",
    "second_tag": "AIT-102",
}


def _settings(statistic):
    needs = getattr(parts(limits)[statistic], "NEEDS", ())
    bounds = {"low": 5.0} if "removal" in statistic else {"low": 6.0, "high": 9.0}
    return bounds | {name: GIVEN[name] for name in needs if name != "low"}


@pytest.fixture(scope="module")
def steady(make):
    """Fourteen months of pH about 7.2 up to the end of June 2026, and an influent of twice that."""
    start, end = make.local(2025, 5, 1), make.local(2026, 7, 1)
    times = make.grid(start, (end - start) / timedelta(days=1))
    value = np.round(7.2 + make.noise(np.random.default_rng(4), len(times), 0.9, 0.08), 2)
    return times, value


def _judge(make, judged, statistic, times, value, first=date(2026, 6, 24), last=LAST, **frame):
    masked = frame.pop("masked", None)
    case = make.case(make.frame(times, value, **frame), masked=masked)
    second = make.case(make.frame(times, np.asarray(value) * 1.5, **frame), masked=masked)
    return judged.by_case(statistic, case, first, last, second=second, **_settings(statistic))


@pytest.mark.parametrize("statistic", STATISTICS)
def test_a_plain_record_is_within_with_wide_margins(make, judged, steady, statistic):
    found = _judge(make, judged, statistic, *steady)
    assert found.status == "within"
    assert found.coverage_pct > 99


@pytest.mark.parametrize("statistic", STATISTICS)
def test_a_record_with_half_of_it_missing_is_never_within(make, judged, steady, statistic):
    times, value = steady
    # Whole days are missing where days are counted, and hours where hours are.
    day, hour = np.arange(len(times)) // 96, np.arange(len(times)) % 96
    found = _judge(make, judged, statistic, times, value, good=(day % 2 == 0) & (hour < 90))
    assert found.status == "not assessable"


@pytest.mark.parametrize("statistic", STATISTICS)
def test_a_frozen_record_is_never_within(make, judged, steady, statistic):
    times, value = steady
    value = value.copy()
    value[-96 * 40 :] = 7.2
    if statistic in ("running_annual_average", "days_outside_half_year"):
        # Forty days frozen are few of a year: all but the beginning is.
        value[96 * 61 :] = 7.2
    found = _judge(make, judged, statistic, times, value)
    assert found.status == "not assessable"


@pytest.mark.parametrize("statistic", STATISTICS)
def test_a_record_out_of_service_throughout_is_never_within(make, judged, steady, statistic):
    times, value = steady
    masked = pl.DataFrame({"start": [times[0]], "end": [times[-1] + timedelta(minutes=15)]})
    found = _judge(make, judged, statistic, times, value, masked=masked, in_state=False)
    assert found.status == "not assessable"
    assert found.coverage_pct == 0


@pytest.mark.parametrize("statistic", STATISTICS)
def test_no_reading_at_all_is_never_within(make, judged, steady, statistic):
    times, value = steady
    found = _judge(make, judged, statistic, times, value, good=False)
    assert (found.status, found.value) == ("not assessable", None)


@pytest.mark.parametrize("statistic", OF_A_MONTH)
def test_a_month_not_ended_says_so(make, judged, steady, statistic):
    times, value = steady
    until = len(times) - 96 * 16  # up to the end of 14 June
    found = _judge(make, judged, statistic, times[:until], value[:until], date(2026, 6, 8), date(2026, 6, 14))
    assert (found.status, found.so_far) == ("within", True)
    assert found.period_start == make.local(2026, 6, 1)
    assert found.period_end == make.local(2026, 6, 15)


@pytest.mark.parametrize("statistic", OF_A_MONTH)
def test_a_month_that_the_record_begins_in_is_not_assessable(make, judged, steady, statistic):
    """The tag came to life on 15 June: half a month is no month."""
    times, value = steady
    begin = len(times) - 96 * 16
    found = _judge(make, judged, statistic, times[begin:], value[begin:], FIRST, LAST)
    assert found.status == "not assessable"
