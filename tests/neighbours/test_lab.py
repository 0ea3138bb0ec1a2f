"""Lab: an error that every grab shows and that does not go away."""

import re
from datetime import date, timedelta

import numpy as np
import pytest

DAYS = 200


@pytest.fixture(scope="module")
def analyser(town, make):
    """A pH analyser with a grab every week (bench scatter 0.05 pH), off by `error` from day 60 on."""

    def build(error=0.0, rate=0.0, day=None, serviced=None, until=DAYS, seed=14):
        random = np.random.default_rng(seed)
        count = DAYS * 96
        water = 7.4 + make.noise(random, count, 0.99, 0.05)
        at = np.arange(count) / 96
        off = np.where((at >= 60) & (at < until), error + rate * (at - 60) / 7, 0.0)
        days = np.arange(2, DAYS, 7)
        stamps = [make.local(2026, 1, 1) + timedelta(days=int(k), hours=10) for k in days]
        lab = make.events(stamps, np.round(water[days * 96 + 40] + random.normal(0, 0.05, len(days)), 2))
        visits = None
        if serviced:
            visits = make.services([make.local(2026, 1, 1) + timedelta(days=serviced)], instrument="E-AIT-1")
        return town(
            {"AIT-1": np.round(water + off, 2)},
            day,
            tags={"AIT-1": {"measures": "ph", "unit": "pH", "high": 14.0}},
            tolerances={"AIT-1": {"tolerance": 0.2}},
            grabs={"AIT-1": lab},
            services={"AIT-1": visits},
        )

    return build


def test_a_steady_error_is_told_with_its_interval(analyser, found):
    (finding,) = found(analyser(0.5), ("disagrees",))
    assert finding.reference == "lab grab" and finding.severity == "act"
    assert finding.ci_low <= 0.5 <= finding.ci_high and finding.tolerance == 0.2
    assert "the bench or the sampling" in finding.evidence


@pytest.mark.parametrize("error", [0.0, 0.1, 0.2])
@pytest.mark.parametrize("seed", range(4))
def test_an_error_within_the_tolerance_is_none(analyser, found, error, seed):
    assert found(analyser(error, seed=seed), ("disagrees",)) == []


def test_one_that_grows_is_a_drifts_business(analyser, found):
    """0.1 pH a week: half the tolerance between two grabs."""
    assert found(analyser(0.0, rate=0.1), ("disagrees",)) == []


def test_one_that_goes_on_growing_is_not_called_steady(analyser, found):
    """0.3 pH on day 60 and 0.03 more every week: the middle of the first four grabs and of the last eight."""
    (finding,) = found(analyser(0.3, rate=0.03), ("disagrees",))
    assert "go away" not in finding.evidence
    (more,) = re.findall(r"([\d.]+) more than at first", finding.evidence)
    weeks = (DAYS - (finding.start.date() - date(2026, 1, 1)).days) / 7 - 1.5 - 3.5
    assert float(more) == pytest.approx(0.03 * weeks, abs=0.08)
    (steady,) = found(analyser(0.5), ("disagrees",))
    assert "at first" not in steady.evidence


def test_a_service_ends_it(analyser, found):
    (finding,) = found(analyser(0.5, serviced=150, until=150), ("disagrees",))
    assert date(2026, 5, 31) <= finding.end.date() <= date(2026, 6, 9)


def test_four_grabs_of_one_morning_are_one_visit(town, found, make):
    """The reagent may have been old that day."""
    water = np.full(60 * 96, 7.4) + 0.01 * (np.arange(60 * 96) % 3)
    stamps = [make.local(2026, 2, 10, 9) + timedelta(minutes=15 * k) for k in range(6)]
    lab = make.events(stamps, [6.8] * 6)
    cases = town(
        {"AIT-1": np.round(water, 2)},
        tags={"AIT-1": {"measures": "ph", "unit": "pH", "high": 14.0}},
        grabs={"AIT-1": lab},
    )
    assert cases["AIT-1"].pairs.height == 6
    assert found(cases, ("disagrees",)) == []


def test_a_service_that_does_not_help_begins_it_anew(analyser, found):
    """After it, what was known before it counts no more: four new grabs are needed."""
    first, second = found(analyser(0.5, serviced=150), ("disagrees",))
    assert first.end is not None and second.is_open
    assert second.crossed >= date(2026, 1, 1) + timedelta(days=150 + 3 * 7)


def test_it_looks_the_same_from_any_later_day(analyser, found):
    whole = {f.finding_id for f in found(analyser(0.5), ("disagrees",))}
    (only,) = whole
    crossed = date.fromisoformat(only[-10:])
    for k in (-8, -1, 0, 1, 7, 30):
        day = crossed + timedelta(days=k)
        assert {f.finding_id for f in found(analyser(0.5, day=day), ("disagrees",))} == (
            whole if k > 0 else set()
        )
