"""Evidence: what may tell that a limit was kept; what is not known is never `within` (contract).

The limits are those of 40 CFR 141.72(b)(2) and 141.551(a); that a value beyond what a loop of 4 to 20 mA
carries is a failure is NAMUR NE 43 (from memory).
"""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.facts import SPANS
from pipeline.record import sound

FIRST, LAST = date(2026, 6, 1), date(2026, 6, 7)


def _case(make, value, days=7, untold=None, **tag):
    start = make.local(2026, 6, 1)
    case = make.case(make.frame(make.grid(start, days), value), tag=make.tag(**tag) if tag else None)
    if untold is None:
        return case
    spans = [{"start": start + timedelta(days=a), "end": start + timedelta(days=b)} for a, b in untold]
    return replace(case, untold=pl.DataFrame(spans, schema=SPANS))


def _wavy(days=7, level=1.0):
    return level + 0.05 * np.sin(np.arange(days * 96) / 7.0)


@pytest.mark.parametrize(("days", "status"), [(1, "within"), (2, "not assessable"), (7, "not assessable")])
def test_while_nobody_knows_the_state_a_reading_inside_proves_nothing(make, judged, days, status):
    """Of seven days the pump's state is missing on some: 6 of 7 are 86 % known, 5 of 7 are 71 %."""
    case = _case(make, _wavy(), untold=[(0, days)])
    found = judged.by_case("instantaneous", case, FIRST, LAST, low=0.2)
    assert found.status == status
    assert found.coverage_pct == pytest.approx(100 * (7 - days) / 7)
    shares = judged.by_case("month_share", case, FIRST, LAST, low=0.2, allow=95)
    assert shares.coverage_pct == pytest.approx(100 * (7 - days) / 7)


def test_while_nobody_knows_the_state_a_reading_outside_is_told(make, judged):
    value = _wavy()
    value[100:132] = 0.1 + 1e-3 * np.arange(32)
    found = judged.by_case("instantaneous", _case(make, value, untold=[(0, 7)]), FIRST, LAST, low=0.2)
    assert (found.status, found.minutes_outside) == ("outside", 480)


def test_no_calculation_rests_on_a_reading_of_an_unknown_state(make):
    case = _case(make, _wavy(), untold=[(2, 3)])
    day = sound(case).between(make.local(2026, 6, 3), make.local(2026, 6, 4))
    assert (day.minutes, day.known_minutes) == (1440, 0)


CHLORINE = {"measures": "chlorine", "unit": "mg/L", "low": 0.0, "high": 5.0}


@pytest.mark.parametrize(
    ("reading", "limit", "status"),
    [
        (999.0, {"low": 0.2}, "not assessable"),  # no analyser of 0 to 5 mg/L measures 999
        (
            -1.25,
            {"high": 4.0},
            "not assessable",
        ),  # an open loop: 0 mA of 4 to 20 is a quarter span below zero
        (-0.05, {"high": 4.0}, "within"),  # 3.84 mA: still a measurement
        (5.1, {"low": 0.2}, "within"),  # 20.3 mA: still a measurement
        (999.0, {"high": 4.0}, "outside"),
        (-1.25, {"low": 0.2}, "outside"),
    ],
)
def test_what_the_span_cannot_hold_proves_nothing(make, judged, reading, limit, status):
    value = reading + 1e-4 * np.sin(np.arange(7 * 96) / 7.0)
    found = judged.by_case("instantaneous", _case(make, value, **CHLORINE), FIRST, LAST, **limit)
    assert found.status == status


def test_a_flow_above_its_span_stays_in_its_mean(make, judged):
    """The storm went past the meter's span, not past the limit: without it the mean would look lower."""
    flow = {"measures": "flow", "unit": "MGD", "low": 0.0, "high": 1.0}
    value = np.where(np.arange(96) < 20, 1.9, 0.9) + 1e-3 * np.sin(np.arange(96))
    case = _case(make, value, days=1, **flow)
    found = judged.by_case("daily_mean", case, FIRST, FIRST, high=1.0)
    assert found.status == "outside"
    assert found.value == pytest.approx(value.mean())


@pytest.mark.parametrize(
    "statistic",
    [
        "daily_max",
        "day_minutes",
        "seven_day_mean",
        "seven_day_max_trailing",
        "week_mean",
        "thirty_day_mean",
    ],
)
def test_a_stretch_out_of_service_asks_for_nothing(make, judged, month, statistic):
    """A filter off line for the second half of June was within in the first: masked time is not judged."""
    first, last = date(2026, 6, 1), date(2026, 6, 30)
    data = month(date(2026, 5, 1), last)
    off = pl.DataFrame([{"start": make.local(2026, 6, 15), "end": make.local(2026, 7, 1)}], schema=SPANS)
    more = {"day_minutes": {"allow": 60}, "week_mean": {"week_starts": "sunday"}}.get(statistic, {})
    found = judged(statistic, data.frame(), first, last, masked=off, high=0.9, **more)
    assert found.status == "within"


def test_a_period_wholly_out_of_service_is_not_within(make, judged, month):
    off = pl.DataFrame([{"start": make.local(2026, 5, 1), "end": make.local(2026, 7, 1)}], schema=SPANS)
    data = month(date(2026, 5, 1), date(2026, 6, 30))
    for statistic in ("daily_max", "day_minutes", "seven_day_mean", "month_mean"):
        found = judged(statistic, data.frame(), FIRST, LAST, masked=off, high=0.9, allow=60)
        assert found.status == "not assessable"


def _on_change(make, flicker_inside):
    """Half of June at 0.1 NTU and half at 0.4; one of the two recorded once, the other every minute."""
    start, half = make.local(2026, 6, 1), 15 * 1440
    often = [start + timedelta(minutes=k) for k in range(half)]
    wiggle = 1e-3 * np.sin(np.arange(half))
    if flicker_inside:
        times, values = [*often, start + timedelta(days=15)], [*(0.1 + wiggle), 0.4]
    else:
        times = [start, *(time + timedelta(days=15) for time in often)]
        values = [0.1, *(0.4 + wiggle)]
    tag = make.tag(measures="turbidity", unit="NTU", step_s=60.0, recording="on change", high=10.0)
    frame = make.frame(pl.Series("time", times), values)
    return make.case(frame, tag=tag, as_of=make.local(2026, 7, 1))


@pytest.mark.parametrize("flicker_inside", [True, False])
def test_the_share_of_a_tag_recorded_on_change_is_one_of_time(make, judged, flicker_inside):
    """However often it was written down, it stood outside for half of the month (40 CFR 141.551(a): 95 %)."""
    june = (date(2026, 6, 1), date(2026, 6, 30))
    case = _on_change(make, flicker_inside)
    found = judged.by_case("month_share", case, *june, high=0.3, allow=95)
    assert (found.value, found.status) == (50.0, "outside")
    ninth = judged.by_case("month_percentile", case, *june, high=0.3, percentile=90, percentile_rule="R6")
    assert ninth.value == pytest.approx(0.4, abs=0.002)


def test_days_that_just_count_do_not_make_up_for_those_that_are_missing(make, judged):
    """Six days of seven at 76 % are 65 % of the week, and less than three quarters are not assessable."""
    known = np.arange(7 * 96) % 96 < 73
    known[-96:] = False
    found = judged(
        "daily_max",
        make.frame(make.grid(make.local(2026, 6, 1), 7), _wavy(), good=known),
        FIRST,
        LAST,
        high=4,
    )
    assert found.status == "not assessable"
    assert found.coverage_pct == pytest.approx(100 * 6 * 73 / (7 * 96))


@pytest.mark.parametrize(
    ("shown", "limit", "status"),
    [
        (4.0, {"high": 1.0}, "outside"),  # ``>4`` NTU is above 1 NTU
        (0.02, {"low": 0.2}, "outside"),  # ``<0.02`` mg/L is below 0.2 mg/L
        (4.0, {"high": 5.0}, "not assessable"),  # ``>4`` may be above 5 or below it
    ],
)
def test_a_reading_of_uncertain_quality_tells_only_where_it_lies_outside(make, judged, shown, limit, status):
    """40 CFR 141.173(a)(2): at no time above 1 NTU; 141.72(b)(2): not below 0.2 mg/L. Half the week is so."""
    value, times = _wavy(level=0.5), make.grid(make.local(2026, 6, 1), 7)
    marked = np.arange(len(times)) < 4 * 96
    value[marked] = shown
    case = replace(
        make.case(make.frame(times, value, good=~marked)), uncertain=times.filter(pl.Series(marked))
    )
    assert judged.by_case("instantaneous", case, FIRST, LAST, **limit).status == status
    assert (
        judged.by_case("daily_max" if "high" in limit else "daily_min", case, FIRST, LAST, **limit).status
        == status
    )
