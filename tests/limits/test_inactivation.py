"""Log inactivation from trends: worked examples, worst inputs, the peak hour, missing inputs."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.clock import period_between
from pipeline.config.disinfection import Segment
from pipeline.episodes import Held
from pipeline.record import Contact
from pipeline.tally.course import inactivation
from pipeline.tally.hours import contacts, profile

DAY = date(2026, 11, 10)
# 40 CFR 141.74(b)(3)(v): CT99.9 is 137 at 10 degC, pH 7.5, 1.2 mg/L and 131 at 0.8 mg/L.
CLEARWELL = {
    "name": "clearwell",
    "flow": "FIT-1",
    "residual": "AIT-1",
    "ph": "AIT-2",
    "temperature": "TIT-1",
    "level": "LIT-1",
    "gallons_per_foot": 10_000,
    "baffling_factor": 0.3,
    "source": "state approval",
}
PIPE = CLEARWELL | {"name": "pipe", "residual": "AIT-0", "level": "", "gallons_per_foot": None}
PIPE |= {"gallons": 20_000, "baffling_factor": 0.5}
USUAL = {"FIT-1": 500.0, "AIT-1": 1.2, "AIT-2": 7.5, "TIT-1": 10.0, "LIT-1": 10.0, "AIT-0": 0.8}
UNITS = {"FIT-1": "gpm", "AIT-1": "mg/L", "AIT-2": "pH", "TIT-1": "degC", "LIT-1": "ft", "AIT-0": "mg/L"}


@pytest.fixture
def plant(make, judged):
    """Judge one day; `changes` = {tag: function of (values by quarter hour)}."""

    def assess(segments=(CLEARWELL,), statistic="giardia_inactivation", low=0.5, units=None, **changes):
        given = UNITS | (units or {})
        history = make.grid(make.local(2026, 8, 1), 101 + 1 / 24)  # the clocks went back on 1 November
        times = make.grid(make.local(2026, 11, 10), 1)
        assert history[-1] < times[0]
        cases = {}
        for name, usual in USUAL.items():
            values = np.full(len(times), usual)
            good = np.ones(len(times), bool)
            # Whole records of one value would be stuck: they move by nothing that matters.
            values += 1e-9 * np.arange(len(times))[::-1] * (1 if name == "TIT-1" else -1)
            change = changes.get(name.replace("-", ""))
            masked = None
            if change:
                told = change(values, good)
                masked = told if isinstance(told, pl.DataFrame) else None
            tag = make.tag(tag=name, unit=given[name], low=None, high=None, resolution=None)
            past = usual * (1 + make.noise(np.random.default_rng(4), len(history), 0.5, 0.01))
            every = pl.concat([make.frame(history, past), make.frame(times, values, good=good)])
            cases[name] = make.case(every, tag=tag, masked=masked)
        told = contacts([Segment(**{k: v for k, v in s.items() if v is not None}) for s in segments], cases)
        return judged.by_case(statistic, cases["AIT-1"], DAY, DAY, contacts=told, low=low)

    return assess


def test_one_segment(plant):
    """T10 60 min, CT 72 of 137: 1.577 log."""
    found = plant()
    assert found.value == pytest.approx(1.577, abs=5e-4)
    assert (found.status, found.unit, found.coverage_pct) == ("within", "log", 100.0)
    assert "clearwell: T10 60 min, CT 72.0 of 137 for 3 log Giardia" in found.note


def test_two_segments_add_up(plant):
    assert plant((PIPE, CLEARWELL)).value == pytest.approx(1.943, abs=5e-4)


def test_virus_is_capped_at_the_tables_four(plant):
    found = plant(statistic="virus_inactivation", low=4.0)
    assert (found.value, found.status) == (4.0, "near")


def test_giardia_is_capped_at_three(plant):
    def strong(values, good):
        values += 20

    assert plant(LIT1=strong, FIT1=lambda v, g: v.__isub__(440)).value == 3.0


def test_units_are_converted(plant):
    """50 degF are 10 degC and 0.72 MGD are 500 gpm."""

    def fahrenheit(values, good):
        values[:] = values * 1.8 + 32

    def mgd(values, good):
        values[:] = values * 1440 / 1e6

    found = plant(TIT1=fahrenheit, FIT1=mgd, units={"TIT-1": "degF", "FIT-1": "MGD"})
    assert found.value == pytest.approx(1.577, abs=5e-4)


def test_the_peak_hour_decides(plant):
    """From 07:00 to 08:00 1,000 gpm flow: T10 30 min, CT 36 of 137; the tank is lowest at noon."""

    def morning(values, good):
        values[28:32] = 1000 - 1e-6 * np.arange(4)

    def noon(values, good):
        values[48:52] = 2.0

    found = plant(FIT1=morning, LIT1=noon)
    assert found.value == pytest.approx(3 * 36 / 137, abs=1e-6)
    assert found.note.startswith("peak hour 07:00")


@pytest.mark.parametrize(
    ("tag", "worse", "logs"),
    [
        ("LIT1", 5.0, 3 * 36 / 137),
        ("AIT1", 1.0, 3 * 60 / 134),
        ("AIT2", 8.0, 3 * 72 / 166),
        ("TIT1", 5.0, 3 * 72 / 183),
        ("FIT1", 1000.0, 3 * 36 / 137),
    ],
)
def test_the_worst_of_each_input_within_the_hour(plant, tag, worse, logs):
    """One of the four readings of the peak hour is worse than the others, and it counts."""

    def once(values, good):
        values[30] = worse

    def peak(values, good):
        values[28:32] = 500.5
        if tag == "FIT1":
            values[30] = worse

    changes = {"FIT1": peak} | ({} if tag == "FIT1" else {tag: once})
    assert plant(**changes).value == pytest.approx(logs, rel=2e-3)


def test_outside_the_table_there_is_no_credit(plant):
    def alkaline(values, good):
        values += 1.6

    for statistic in ("giardia_inactivation", "virus_inactivation"):
        found = plant(statistic=statistic, AIT2=alkaline)
        assert (found.status, found.value) == ("not assessable", None)
        assert "outside the table" in found.note


@pytest.mark.parametrize("tag", ["FIT1", "AIT1", "AIT2", "TIT1", "LIT1"])
def test_a_missing_input_is_not_assessable(plant, tag):
    def lost(values, good):
        good[:] = False

    assert plant(**{tag: lost}).status == "not assessable"


@pytest.mark.parametrize("tag", ["AIT1", "AIT2", "TIT1", "LIT1"])
def test_a_frozen_input_is_no_evidence(make, plant, tag):
    def frozen(values, good):
        values[:] = values[0]

    assert plant(**{tag: frozen}).status == "not assessable"


def test_no_water_no_contact_asked_for(plant):
    """The plant stood still at night: those hours are not due, and the day is whole."""

    def night(values, good):
        values[:24] = 0.0

    found = plant(FIT1=night)
    assert found.value == pytest.approx(1.577, abs=5e-4)
    assert found.coverage_pct == 100.0


def test_an_hour_asks_for_a_value_where_water_flowed_or_may_have():
    """Nothing flows for two hours, water for one, and of the fourth nobody knows."""
    hour_us = 3_600_000_000

    def of(*values):
        edges = np.arange(len(values) + 1, dtype=np.int64) * hour_us
        return Held(edges[:-1], edges[1:], np.array(values, float))

    steady = {"residual": of(*[1.2] * 4), "ph": of(*[7.5] * 4), "temperature": of(*[10.0] * 4)}
    pipe = Segment(**{k: v for k, v in PIPE.items() if v})
    contact = Contact(pipe, {"flow": of(0, 0, 500, np.nan), **steady})
    found = profile([contact], np.arange(5, dtype=np.int64) * hour_us, is_virus=False)
    assert found.is_due.tolist() == [False, False, True, True]
    # T10 20 min, CT 24 of 137.
    assert found.logs.tolist() == pytest.approx([np.nan, np.nan, 3 * 24 / 137, np.nan], nan_ok=True)


def test_below_what_is_asked(plant):
    found = plant(low=1.6)
    assert found.status == "outside"
    assert [one.unit for one in found.excursions] == ["log"]


def test_without_segments_it_is_not_assessable(plant):
    assert plant(segments=()).status == "not assessable"


@pytest.mark.parametrize("wrong", [{"gallons": 5.0}, {"gallons_per_foot": None}, {"level": ""}])
def test_a_segment_needs_one_volume(wrong):
    given = {k: v for k, v in (CLEARWELL | wrong).items() if v is not None}
    with pytest.raises(ValueError, match="volume"):
        Segment(**given)


@pytest.fixture(scope="module")
def year(make):
    """Contacts of the clearwell over 14 months, hourly; the tank's level tells the month."""
    start, end = make.local(2025, 9, 1), make.local(2026, 11, 16)
    times = make.grid(start, (end - start) / timedelta(days=1), step_s=3600)
    local = times.dt.convert_time_zone("America/Denver")
    level = 5.0 + local.dt.month().to_numpy() / 10.0  # January 5.1 ft ... December 6.2 ft
    level[((local.dt.month() == 10) & (local.dt.day() == 5)).to_numpy()] = 2.0  # the least day
    level[(local.dt.month() == 2).to_numpy()] = 5.0
    steady = {name: np.full(len(times), usual) for name, usual in USUAL.items() if name != "AIT-0"}
    ripple = 1e-6 * np.abs(np.sin(np.arange(len(times)) ** 2))

    def contacts_of(good=True):
        cases = {}
        for name, values in (steady | {"LIT-1": level}).items():
            tag = make.tag(tag=name, unit=UNITS[name], low=None, high=None, resolution=None, step_s=3600)
            # Colder or more alkaline by a hair would be another cell.
            moved = values + (ripple if name == "TIT-1" else -ripple)
            told = good if name == "FIT-1" else True
            cases[name] = make.case(make.frame(times, moved, good=told), tag=tag)
        return cases, contacts([Segment(**{k: v for k, v in CLEARWELL.items() if v is not None})], cases)

    contacts_of.times = times
    return contacts_of


def _logs(level_ft):
    """T10 = 10,000 gal a foot / 500 gpm x 0.3; CT99.9 = 137 (40 CFR 141.74(b)(3)(v))."""
    return 3 * (level_ft * 10_000 / 500 * 0.3 * 1.2) / 137


WEEK = (date(2026, 11, 9), date(2026, 11, 15))


def test_benchmark_is_the_least_of_twelve_monthly_means(judged, year):
    """40 CFR 141.543: February's mean is the least, though the least single day lies in October."""
    cases, told = year()
    found = judged.by_case("disinfection_benchmark", cases["AIT-1"], *WEEK, contacts=told, low=0.5)
    assert found.value == pytest.approx(_logs(5.0), rel=1e-4)
    assert (found.status, found.unit, found.coverage_pct) == ("within", "log", 100.0)
    assert found.note == "Nov 2025 to Oct 2026; lowest Feb 2026"
    above = judged.by_case("disinfection_benchmark", cases["AIT-1"], *WEEK, contacts=told, low=0.8)
    assert above.status == "outside"


def test_mean_of_a_month_is_that_of_its_days(judged, year):
    """October: 30 days at 6.0 ft and one at 2.0."""
    cases, told = year()
    month = (date(2026, 10, 1), date(2026, 10, 31))
    found = judged.by_case("giardia_month_mean", cases["AIT-1"], *month, contacts=told, low=0.5)
    assert found.value == pytest.approx((30 * _logs(6.0) + _logs(2.0)) / 31, rel=1e-4)
    assert (found.so_far, found.note) == (False, "Oct 2026; of 31 days")


def test_a_month_not_ended_is_judged_so_far(judged, year):
    cases, told = year()
    found = judged.by_case("giardia_month_mean", cases["AIT-1"], *WEEK, contacts=told, low=0.5)
    assert (found.so_far, found.note) == (True, "Nov 2026; of 15 days")
    assert found.value == pytest.approx(_logs(6.1), rel=1e-4)


def test_a_month_of_which_too_little_is_known_leaves_no_benchmark(judged, year):
    local = year.times.dt.convert_time_zone("America/Denver")
    lost = (local.dt.month() == 7) & (local.dt.day() <= 10)
    cases, told = year(good=(~lost).to_numpy())
    found = judged.by_case("disinfection_benchmark", cases["AIT-1"], *WEEK, contacts=told, low=0.5)
    assert (found.status, found.value) == ("not assessable", None)
    assert found.note.endswith("11 of 12 months known")
    july = (date(2026, 7, 1), date(2026, 7, 31))
    mean = judged.by_case("giardia_month_mean", cases["AIT-1"], *july, contacts=told, low=0.5)
    assert mean.status == "not assessable"


def test_the_course_that_the_report_prints(make, year):
    _, told = year()
    period = period_between(date(2026, 10, 26), date(2026, 11, 1), make.zone)
    course = inactivation(told, period, period.end)
    # 1 November has 25 hours.
    assert len(course.hours) == 6 * 24 + 25
    assert [start for start, _ in course.days] == [start for start, _ in period.days]
    last = course.days[-1][1]
    assert last.giardia == pytest.approx(_logs(6.1), rel=1e-4)
    assert (last.virus, last.flow_gpm) == (4.0, pytest.approx(500, abs=1e-3))
    assert last.contact_minutes == pytest.approx(6.1 * 6, rel=1e-4)
    assert last.lowest_mg_l == pytest.approx(1.2, abs=1e-5)
    # November has begun and not ended: the twelve end with October.
    assert len(course.months) == 12
    assert course.months[-1][0] == make.local(2026, 10, 1)
    assert course.benchmark == (make.local(2026, 2, 1), pytest.approx(_logs(5.0), rel=1e-4))


def test_without_segments_there_is_no_course(make):
    period = period_between(DAY, DAY, make.zone)
    assert inactivation((), period, period.end) is None
