"""Log inactivation from trends: worked examples, worst inputs, the peak hour, missing inputs."""

from datetime import date

import numpy as np
import polars as pl
import pytest

from pipeline.config.disinfection import Segment
from pipeline.tally.inactivation import contacts

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
