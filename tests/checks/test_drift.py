"""Drift: sensors of known health, drifts of known size."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.casebook import with_twin
from pipeline.checks.drift import _signed

SEEDS = range(12)
END = date(2024, 6, 1) + timedelta(days=420)


def test_healthy_sensors_with_weekly_grabs_are_left_alone(find, as_known, sensor):
    """Twelve sensors over 420 days wander by 40 % of their tolerance between services: nobody's morning.

    A budget of a quarter false finding a sensor-year (the design's) is 3.5 on these; 8 would be more than
    chance allows (Poisson: 3 %).
    """
    found = [_listed(find("drift", as_known(sensor(seed)))) for seed in SEEDS]
    assert sum(map(len, found)) < 8


def _listed(found):
    return [finding for finding in found if finding.severity != "note"]


def test_healthy_sensors_without_grabs_are_left_alone(find, as_known, sensor):
    found = [_listed(find("drift", as_known(sensor(seed, grab_days=0)))) for seed in SEEDS]
    assert sum(map(len, found)) < 8


@pytest.mark.parametrize(("rate", "days_to_tolerance"), [(0.05, 28), (0.1, 14)])
def test_a_useful_drift_is_found_with_its_rate(find, as_known, sensor, rate, days_to_tolerance):
    """Ten weeks of drift against weekly grabs of sd 0.05, no service logged."""
    estimates, delays, held = [], [], []
    for seed in SEEDS:
        drifting = sensor(100 + seed, natural=0.0, drift=rate, onset=350, service_days=0)
        (finding,) = [f for f in find("drift", as_known(drifting)) if f.reference == "lab grab" and f.is_open]
        estimates.append(finding.rate_per_week)
        delays.append((finding.listed - date(2025, 5, 17)).days)
        held.append(finding.ci_low <= _at_last_grab(drifting) <= finding.ci_high)
        assert finding.severity == "act"
    assert np.median(estimates) == pytest.approx(rate, rel=0.1)
    # It cannot matter before it nears its tolerance, and three grabs later there is no doubt about it.
    assert days_to_tolerance / 2 <= np.median(delays) <= days_to_tolerance + 21
    assert np.mean(held) >= 10 / 12


@pytest.mark.parametrize("grab_days", [7, 0])
def test_no_service_is_named_where_none_is_on_file(find, as_known, sensor, grab_days):
    drifting = sensor(3, natural=0.0, drift=0.1, onset=350, service_days=0, grab_days=grab_days)
    told = [finding.evidence for finding in find("drift", as_known(drifting))]
    assert told and not any("its last service" in words for words in told)
    served = sensor(3, natural=0.0, drift=0.1, onset=350, service_days=340, grab_days=grab_days)
    assert any("since its last service" in one.evidence for one in find("drift", as_known(served)))


def _at_last_grab(sensor):
    row = sensor.frame["time"].search_sorted(sensor.grabs["time"][-1])
    return sensor.error[row]


def test_own_history_finds_a_large_drift_and_asks_for_a_grab(find, as_known, sensor):
    """0.08 pH a week in the third year: the season is known by then."""
    held, rates = [], []
    for seed in range(6):
        drifting = sensor(
            200 + seed, days=800, natural=0.0, drift=0.08, onset=730, grab_days=0, service_days=0
        )
        (finding,) = [f for f in find("drift", as_known(drifting)) if f.is_open]
        assert finding.reference == "own history"
        assert finding.severity == "watch", "one sensor alone never proves itself wrong"
        assert "take a grab" in finding.evidence
        rates.append(finding.rate_per_week)
        held.append(finding.ci_low <= drifting.error[-96] <= finding.ci_high)
    assert np.median(rates) == pytest.approx(0.08, rel=0.2)
    assert sum(held) >= 5


def test_of_an_error_that_came_at_once_no_growth_is_told(find, as_known, sensor):
    """Half a pH from one day to the next, as where two columns change places; a grab every day."""
    for seed in range(6):
        jumped = sensor(300 + seed, days=364, natural=0.0, step=0.5, onset=350, grab_days=1, service_days=0)
        (finding,) = [f for f in find("drift", as_known(jumped)) if f.reference == "lab grab" and f.is_open]
        assert finding.rate_per_week is None
        assert "came at once" in finding.evidence and "changing by" not in finding.evidence
        # Onsets are tried some days apart.
        assert abs((finding.reaches_tolerance_on - date(2025, 5, 17)).days) <= 3


def test_no_error_is_known_better_than_the_display_shows_it(find, sensor, make):
    """Both show hundredths: their daily difference is a multiple of a hundredth, and no surer than that."""
    drifting = sensor(5, natural=0.0, drift=0.1, onset=380, grab_days=0, service_days=0)
    error = drifting.frame.with_columns(
        value=np.round(drifting.frame["value"].to_numpy() - drifting.error, 2)
    )
    case = make.case(drifting.frame, drifting.tag, drifting.instrument)
    twin = make.case(error, make.tag(tag="AIT-102"))
    told = [one for one in find("drift", with_twin(case, twin)) if one.reference == "twin instrument"]
    assert told
    for one in told:
        assert one.ci_high - one.ci_low >= 2 * drifting.tag.resolution - 1e-9


def test_a_service_of_the_twin_closes_what_it_repaired(find, sensor, make):
    """The twin loses half a pH in ten weeks and is replaced: a week later nothing stands on the sound one."""
    for seed in range(4):
        sound = sensor(600 + seed, days=407, natural=0.0, grab_days=0, service_days=0)
        day = np.arange(sound.frame.height) / 96
        lost = 0.5 * np.clip((day - 330) / 70, 0, 1) * (day < 400)
        shown = np.round(sound.frame["value"].to_numpy() - lost + 0.005 * np.sin(7 * day), 2)
        case = make.case(sound.frame, tag=sound.tag, instrument=sound.instrument)
        twin = make.case(
            make.frame(sound.frame["time"], shown),
            tag=sound.tag.model_copy(update={"tag": "AIT-101B"}),
            instrument=sound.instrument,
            services=make.services([sound.start + timedelta(days=400)]),
        )
        told = [one for one in find("drift", with_twin(case, twin)) if one.reference == "twin instrument"]
        assert told and not any(one.is_open for one in told)


def _bad_twin(make, sound, grab_days):
    """A sound sensor whose twin reads ever lower, by 0.04 pH a week for sixteen weeks; both have grabs."""
    day = np.arange(sound.frame.height) / 96
    lost = 0.04 * np.clip((day - 295) / 7, 0, None)
    shown = np.round(sound.frame["value"].to_numpy() - lost + 0.005 * np.sin(7 * day), 2)
    own = make.case(sound.frame, tag=sound.tag, instrument=sound.instrument, grabs=sound.grabs)
    bad = make.case(
        make.frame(sound.frame["time"], shown),
        tag=sound.tag.model_copy(update={"tag": "AIT-101B"}),
        instrument=sound.instrument,
        grabs=sound.grabs,
    )
    return with_twin(own, bad), with_twin(bad, own)


@pytest.mark.parametrize("grab_days", [7, 0])
def test_grabs_break_the_tie_between_twins(find, sensor, make, grab_days):
    """A difference accuses both, a grab only one of them (common practice, no source)."""
    for seed in range(4):
        sound = sensor(640 + seed, days=407, natural=0.0, grab_days=grab_days, service_days=0)
        own, bad = (
            [f for f in find("drift", case) if f.listed] for case in _bad_twin(make, sound, grab_days)
        )
        assert any(one.is_open for one in bad)
        assert any(one.is_open for one in own) == (not grab_days)


@pytest.mark.parametrize("grab_days", [7, 9])
def test_grabs_that_see_the_drift_too_clear_nobody(find, sensor, make, grab_days):
    """Those of the last weeks show less than the pair shows today, for the error has grown since."""
    for seed in range(502, 506):
        one, other = (
            min(f.listed for f in find("drift", _beside(make, drifting, 2)) if f.listed)
            for drifting in (
                sensor(seed, natural=0.0, drift=0.06, onset=340, service_days=0, grab_days=days)
                for days in (grab_days, 0)
            )
        )
        assert one <= other


def test_one_wild_grab_is_no_drift(find, as_known, sensor, make):
    """A slip of the pen (8.4 for 7.4) among 60 weekly grabs; common practice: repeat the grab first."""
    for seed in range(8):
        healthy = sensor(seed)
        lab = healthy.grabs["value"].to_numpy().copy()
        lab[20 + 5 * seed] += (-1.0) ** seed
        healthy.grabs = make.events(healthy.grabs["time"], lab)
        assert _listed(find("drift", as_known(healthy))) == []


def test_a_step_of_the_water_is_no_drift_by_own_history(find, as_known, sensor):
    """A new source lifts the level for good; without a reference that may be the water."""
    found = [
        find(
            "drift", as_known(sensor(300 + k, natural=0.0, step=0.4, onset=350, grab_days=0, service_days=0))
        )
        for k in range(5)
    ]
    assert sum(len(_listed(one)) for one in found) <= 1
    assert all("take a grab" in finding.evidence for one in found for finding in one)


def test_a_step_against_the_grabs_is_found_with_the_second_grab(find, as_known, sensor):
    """A calibration gone wrong: the water did not jump in the lab."""
    wrong = sensor(400, natural=0.0, step=0.5, onset=350, service_days=0)
    (finding,) = find("drift", as_known(wrong))
    assert finding.severity == "act"
    assert 1 <= (finding.crossed - date(2025, 5, 17)).days <= 21, "the second grab bears it out"
    assert finding.ci_low < 0.5 < finding.ci_high


def test_a_service_closes_the_finding(find, as_known, sensor, make):
    drifting = sensor(101, natural=0.0, drift=0.06, onset=300, service_days=0)
    drifting.services = make.services([make.local(2025, 7, 15, 10)])
    drifting.frame = drifting.frame.with_columns(
        value=drifting.frame["value"]
        - (drifting.frame["time"] >= make.local(2025, 7, 15, 10)).cast(float) * drifting.error
    )
    (finding,) = find("drift", as_known(drifting))
    assert finding.end == make.local(2025, 7, 15)
    assert finding.tolerance == 0.2
    assert finding.reaches_tolerance_on < finding.crossed + timedelta(days=60)


def test_no_service_in_sight_looks_ahead_as_far_as_the_settings_say(find, as_known, sensor):
    drifting = as_known(sensor(101, natural=0.0, drift=0.03, onset=250, service_days=0))
    (near,) = find("drift", drifting, horizon_days=0.0)
    (far,) = find("drift", drifting, horizon_days=90.0, longest_horizon_days=90.0)
    assert far.crossed == near.crossed, "that it drifts is certain on the same day"
    assert far.listed < near.listed


@pytest.mark.parametrize("kind", ["check", ""])
def test_a_mere_check_restarts_nothing(find, as_known, sensor, make, kind):
    drifting = sensor(101, natural=0.0, drift=0.06, onset=300, service_days=0)
    drifting.services = make.services([make.local(2025, 6, 15, 10)], kind=kind)
    (finding,) = find("drift", as_known(drifting))
    assert finding.is_open


def test_without_a_tolerance_nothing_matters(find, as_known, sensor, make):
    drifting = sensor(101, natural=0.0, drift=0.06, onset=300, service_days=0)
    drifting.instrument = make.instrument(tolerance=None)
    assert find("drift", as_known(drifting)) == []
    drifting.instrument = None
    assert find("drift", as_known(drifting)) == []


def test_shares_of_the_reading(find, as_known, sensor, make):
    """A turbidimeter that reads 30 % high from day 350 on, weekly grabs of 10 % scatter, tolerance 10 %."""
    random = np.random.default_rng(2)
    meter = sensor(1, natural=0.0, service_days=0)
    meter.tag = make.tag(measures="turbidity", unit="NTU", low=0.0, high=100.0, resolution=0.001)
    meter.instrument = make.instrument(tolerance=None, tolerance_pct=10.0)
    true = 0.5 * np.exp(make.noise(random, len(meter.frame), 0.98, 0.2))
    late = np.arange(len(true)) >= 350 * 96
    meter.frame = make.frame(meter.frame["time"], np.where(late, 1.3, 1.0) * true)
    row = np.searchsorted(meter.frame["time"].to_numpy(), meter.grabs["time"].to_numpy())
    meter.grabs = make.events(meter.grabs["time"], true[row] * np.exp(random.normal(0, 0.1, len(row))))
    (finding,) = [f for f in find("drift", as_known(meter)) if f.reference == "lab grab"]
    level = float(np.median(meter.frame["value"][-28 * 96 :]))
    # 30 % high: 0.3 / 1.3 of what it shows.
    assert finding.estimate / level == pytest.approx(0.3 / 1.3, rel=0.35)
    assert finding.ci_low < 0.3 / 1.3 * level < finding.ci_high
    assert finding.tolerance == pytest.approx(0.1 * level, rel=0.05)


def test_what_services_found_lets_foresee(find, as_known, sensor, make):
    """Found at 7.40 in a buffer of 7.00 and left at 7.00.

    Calibration drift is the reading in the standard less its value (USGS TM 1-D3; from memory).
    """
    healthy = sensor(31, natural=0.0, grab_days=0, service_days=0)
    times = [make.local(2025, 5, 1, 10), make.local(2025, 5, 31, 10), make.local(2025, 6, 30, 10)]
    healthy.services = make.services(times)
    healthy.services = healthy.services.with_columns(
        as_found=np.array([7.0, 7.4, 7.4]), as_left=np.array([7.0, 7.0, 7.0]), reference=np.array([7.0] * 3)
    )
    healthy.instrument = make.instrument(tolerance=0.2, service_days=30.0)
    told = [f for f in find("drift", as_known(healthy)) if f.reference == "as found at services"]
    assert told[0].severity == "note", "a forecast, not a measurement"
    assert told[0].rate_per_week == pytest.approx(7 * 0.4 / 30, rel=0.01)
    assert told[0].crossed < date(2025, 6, 15)
    assert "Nothing was measured since" in told[0].evidence


def test_a_forecast_says_what_was_compared_since(find, as_known, sensor, make):
    """Two small drifts, the same way, and three grabs since: nobody writes that nothing was measured."""
    healthy = sensor(31, natural=0.0, grab_days=0, service_days=0)
    healthy.services = make.services([make.local(2025, 6, day, 10) for day in (1, 30)]).with_columns(
        as_found=np.array([7.0, 7.2]), as_left=np.array([7.0, 7.0]), reference=np.array([7.0] * 2)
    )
    at = [make.local(2025, 7, day, 9) for day in (3, 8, 13)]
    row = [int(healthy.frame["time"].search_sorted(time)) for time in at]
    healthy.grabs = make.events(at, healthy.frame["value"].gather(row) - 0.1)
    told = [f for f in find("drift", as_known(healthy)) if f.reference == "as found at services"]
    assert told and "3 grabs compared since" in told[-1].evidence
    assert not any("Nothing was measured" in finding.evidence for finding in told)


@pytest.mark.parametrize(
    ("rate", "words"),
    [(0.0004, "less than 0.001"), (-0.0004, "less than 0.001"), (0.0006, "+0.001"), (0.04, "+0.040")],
)
def test_a_rate_is_never_written_as_nothing(make, rate, words):
    assert _signed(make.tag(), rate) == words


def test_beside_a_twin_a_small_drift_is_known_within_weeks(find, sensor, make):
    """0.03 pH a week against a twin that wanders by 0.0125 pH: certain in three weeks, listed before 0.2."""
    certain, listed = [], []
    for seed in range(6):
        drifting = sensor(500 + seed, natural=0.0, drift=0.03, onset=350, grab_days=0, service_days=0)
        found = find("drift", _beside(make, drifting, seed))
        (finding,) = [f for f in found if f.is_open]
        assert finding.reference == "twin instrument"
        assert "Which of the two is off" in finding.evidence and finding.severity == "watch"
        certain.append((finding.crossed - date(2025, 5, 17)).days)
        listed.append((finding.listed - date(2025, 5, 17)).days)
        assert finding.ci_low < drifting.error[-96] < finding.ci_high
    assert 0 < np.median(certain) <= 28
    assert np.median(certain) < np.median(listed) <= 7 * 0.2 / 0.03 + 7


def _beside(make, one, seed, day=None):
    """The case of a sensor with a twin in the same water."""
    random = np.random.default_rng(900 + seed)
    wander = make.noise(random, one.frame.height, float(np.exp(-1 / 1920)), 0.0125)
    water = one.frame["value"].to_numpy() - one.error
    shown = np.round(water + wander + random.normal(0, 0.01, len(water)), 2)
    as_of = None if day is None else make.local(day.year, day.month, day.day)
    case = make.case(
        one.frame, tag=one.tag, instrument=one.instrument, grabs=one.grabs, services=one.services, as_of=as_of
    )
    other = make.case(
        make.frame(one.frame["time"], shown),
        tag=one.tag.model_copy(update={"tag": "AIT-101B"}),
        instrument=one.instrument,
        as_of=as_of,
    )
    return with_twin(case, other)


def test_what_was_said_beside_a_twin_stays_said(find, sensor, make):
    drifting = sensor(501, natural=0.3, drift=0.05, onset=330, grab_days=0)
    whole = find("drift", _beside(make, drifting, 1))
    assert whole
    days = [f.crossed + timedelta(days=k) for f in whole for k in (0, 1)] + [
        date(2025, 3, 1),
        date(2025, 7, 1),
    ]
    for day in days:
        known = {f.finding_id for f in find("drift", _beside(make, drifting, 1, day))}
        assert known == {f.finding_id for f in whole if f.crossed < day}, day


def test_one_trouble_is_told_once_whatever_it_was_held_against(find, sensor, make):
    """Weekly grabs and a twin both see it: one finding, dated by the first, told by the grabs."""
    drifting = sensor(502, natural=0.0, drift=0.06, onset=340, service_days=0)
    found = [f for f in find("drift", _beside(make, drifting, 2)) if f.is_open]
    assert [f.reference for f in found] == ["lab grab"]
    alone = [f for f in find("drift", _beside(make, sensor(502, natural=0.0, drift=0.06, onset=340,
             service_days=0, grab_days=0), 2)) if f.is_open]  # fmt: skip
    assert found[0].crossed <= alone[0].crossed + timedelta(days=3)


@pytest.mark.parametrize(("grab_days", "told_in"), [(0, [6]), (2, [])])
def test_grabs_outrank_what_services_let_foresee(find, as_known, sensor, make, grab_days, told_in):
    """Twice found 0.4 pH high in the buffer, and a bench that says each other day that it reads right."""
    healthy = sensor(31, natural=0.0, grab_days=grab_days, service_days=0)
    times = [make.local(2025, 5, 1, 10), make.local(2025, 5, 31, 10), make.local(2025, 6, 30, 10)]
    healthy.services = make.services(times).with_columns(
        as_found=np.array([7.0, 7.4, 7.4]), as_left=np.array([7.0, 7.0, 7.0]), reference=np.array([7.0] * 3)
    )
    healthy.instrument = make.instrument(tolerance=0.2, service_days=30.0)
    foreseen = [f for f in find("drift", as_known(healthy)) if f.reference == "as found at services"]
    assert [f.crossed.month for f in foreseen] == told_in


def _aired(make, found, days=180, hours=24):
    """Oxygen about 2 mg/L, within 0.3 mg/L or 10 %; each month it shows `found` in air of 8.6 mg/L."""
    random = np.random.default_rng(7)
    value = np.round(2.0 + make.noise(random, 96 * days, 0.99, 0.2), 2)
    frame = make.frame(make.grid(make.utc(2026, 1, 1), days), value).filter(pl.col("time").dt.hour() < hours)
    times = [make.local(2026, month, 5, 10) for month in range(1, 7)]
    services = make.services(times).with_columns(
        as_found=np.full(6, found), as_left=np.full(6, 8.6), reference=np.full(6, 8.6)
    )
    tag = make.tag(measures="dissolved_oxygen", unit="mg/L", low=0.0, high=20.0)
    device = make.instrument(tolerance=0.3, tolerance_pct=10.0, service_days=30.0)
    return make.case(frame, tag, device, services=services)


@pytest.mark.parametrize(("found", "told"), [(8.1, False), (6.9, True)])
def test_an_error_found_in_air_is_held_against_the_tolerance_in_air(find, make, found, told):
    """0.5 of 8.6 mg/L is 6 %, of 2 mg/L as well: an error of the slope (common practice, no source)."""
    said = [one for one in find("drift", _aired(make, found)) if one.reference == "as found at services"]
    assert any(one.listed for one in said) == told


def test_a_share_of_a_reading_that_nobody_knows_is_no_tolerance(find, make):
    """Two hours a day make no day: no level is known, and 10 % of it is not 10 % of 1."""
    assert not find("drift", _aired(make, 6.9, hours=2))


def test_the_day_of_reaching_the_tolerance_stays_while_nothing_new_is_known(find, sensor, make):
    """Weekly grabs find a drift and stop: three weeks later the same grabs still say the same day."""
    drifting = sensor(502, natural=0.0, drift=0.04, onset=340, service_days=0)
    last = drifting.start + timedelta(days=380)
    grabs = drifting.grabs.filter(pl.col("time") < last)
    told = set()
    for later in (0, 7, 21):
        frame = drifting.frame.filter(pl.col("time") < last + timedelta(days=later))
        case = make.case(
            frame, drifting.tag, drifting.instrument, grabs=grabs, as_of=last + timedelta(days=later)
        )
        told |= {
            f.reaches_tolerance_on for f in find("drift", case) if f.reference == "lab grab" and f.is_open
        }
    assert len(told) == 1 and None not in told
