"""Sensors of known health: season, daily rhythm, memory, grabs with lab noise, drifts between services."""

from datetime import timedelta
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from pipeline import checks
from pipeline.neighbours.join import with_neighbours
from pipeline.parts import parts

TOLERANCE = 0.2
"""Admissible error of a pH analyser [pH]; common practice, no source."""


@pytest.fixture(scope="session")
def find():
    """Run one check with its default settings."""

    def run(kind, case, **settings):
        check = parts(checks)[kind]
        return list(check.find(case, check.Settings(**settings)))

    return run


@pytest.fixture(scope="session")
def sensor(make):
    """A pH analyser over `days` days from 1 June 2024: what it showed, the grabs and the services.

    The water has a season of +- `season` pH, a daily rhythm of 0.05 and a wander of 0.05 (memory of a few
    days, after the daily medians of open plant data: sd .05, lag one .54). The instrument drifts by
    `natural` of its tolerance between two services, and `drift` pH a week from `onset` on.
    """

    def build(
        seed,
        days=420,
        grab_days=7,
        service_days=30,
        natural=0.4,
        drift=0.0,
        onset=0,
        step=0.0,
        tag=None,
        serviced=True,
        season=0.15,
    ):
        random = np.random.default_rng(seed)
        start = make.local(2024, 6, 1)
        times = make.grid(start, days)
        day = np.arange(len(times)) / 96
        water = 7.4 + season * np.cos(2 * np.pi * day / 365.25) + 0.05 * np.sin(2 * np.pi * day)
        water += make.noise(random, days, 0.55, 0.05)[day.astype(int)] + make.noise(
            random, len(times), 0.8, 0.02
        )
        services = (
            np.arange(random.uniform(5, service_days), days, service_days) if service_days else np.array([])
        )
        since = day - np.append(0.0, services)[np.searchsorted(services, day, side="right")]
        sign = random.choice([-1.0, 1.0])
        error = sign * natural * TOLERANCE * since / (service_days or days)
        # Only a service that finds the drift takes it away; here the log says none does.
        error += drift / 7 * np.clip(day - onset, 0, None) + step * (day >= onset)
        shown = np.round(water + error, 2)
        hours = np.arange(9.0, days * 24 - 1, grab_days * 24) if grab_days else np.array([])
        row = (hours * 4).astype(int)
        lab = np.round(water[row] + random.normal(0, 0.05, len(row)), 2)
        instrument = make.instrument(
            tolerance=TOLERANCE, service_days=float(service_days) if service_days else None
        )
        return SimpleNamespace(
            frame=make.frame(times, shown),
            error=error,
            grabs=make.events(times.gather(row), lab),
            services=make.services([start + timedelta(days=float(s)) for s in services] if serviced else []),
            tag=tag or make.tag(),
            instrument=instrument,
            start=start,
        )

    return build


@pytest.fixture(scope="session")
def as_known(make):
    """The Case of a sensor as it was known at the end of a local day (None = all of it)."""

    def case(sensor, day=None):
        as_of = None if day is None else make.local(day.year, day.month, day.day)
        return make.case(
            sensor.frame,
            tag=sensor.tag,
            instrument=sensor.instrument,
            grabs=sensor.grabs,
            services=sensor.services,
            as_of=as_of,
        )

    return case


@pytest.fixture(scope="session")
def spoilt(make):
    """A lively pH with frozen spells, gaps, bad, impossible and idle readings at random."""

    def build(seed, days=200):
        random = np.random.default_rng(seed)
        times = make.grid(make.local(2026, 1, 5), days)
        keep = random.random(len(times)) > 0.01
        value = np.round(7.2 + make.noise(random, len(times), 0.95, 0.1), 2)
        good = random.random(len(times)) > 0.01
        for start in random.integers(0, len(times) - 300, 20):
            value[start : start + random.integers(2, 150)] = value[start]
        for start in random.integers(0, len(times) - 300, 15):
            value[start : start + random.integers(1, 5)] = random.choice([-0.5, 14.6])
        for start in random.integers(0, len(times) - 300, 10):
            keep[start : start + random.integers(2, 40)] = False
        for start in random.integers(0, len(times) - 300, 10):
            good[start : start + random.integers(2, 40)] = False
        in_state = np.ones(len(times), bool)
        for start in random.integers(0, len(times) - 300, 8):
            in_state[start : start + random.integers(2, 60)] = False
        jitter = pl.Series(
            random.integers(0, 600, len(times)) * (random.random(len(times)) < 0.1) * 1_000_000
        )
        stamps = times + jitter.cast(pl.Duration("us"))
        frame = make.frame(
            stamps.filter(pl.Series(keep)), value[keep], good=good[keep], in_state=in_state[keep]
        )
        return SimpleNamespace(
            frame=frame,
            grabs=make.events([], []),
            services=make.services([]),
            tag=make.tag(),
            instrument=make.instrument(),
        )

    return build


@pytest.fixture(scope="session")
def beside(make, as_known, spoilt):
    """AIT-101 as its neighbours tell of it: in its last days it shows the numbers of another tag."""

    def build():
        one, two = spoilt(1), spoilt(2)
        held = one.frame["time"][-600]
        later = one.frame.filter(pl.col("time") >= held)
        two.frame = pl.concat([two.frame.filter(pl.col("time") < held), later])
        one.tag = make.tag(tag="AIT-100", instrument="AE-100")
        return with_neighbours({"AIT-100": as_known(one), "AIT-101": as_known(two)})["AIT-101"]

    return build


@pytest.fixture(scope="session")
def ailing(make):
    """A pH with a daily rhythm and scatter of its own, whose recording ails from `day` to `until`.

    Sound, it wanders by 0.05 and scatters by `scatter` pH about a rhythm of +- 0.3, 15-minute readings.
    """

    def build(kind="", day=120, until=None, days=200, seed=7, scatter=0.03, tag=None, in_state=True):
        random = np.random.default_rng(seed)
        times = make.grid(make.local(2026, 1, 5), days)
        count = len(times)
        clock = times.dt.convert_time_zone(str(make.zone)).to_frame("clock")["clock"]
        hour = clock.dt.hour().to_numpy() + clock.dt.minute().to_numpy() / 60.0
        slow = 7.4 + 0.3 * np.cos(2 * np.pi * hour / 24) + make.noise(random, count, 0.99, 0.05)
        value = slow + scatter * random.standard_normal(count)
        part = slice(day * 96 + 20, count if until is None else until * 96 + 20)
        value[part] = _AILMENTS[kind](value, part, scatter, random)[part] if kind else value[part]
        frame = make.frame(times, np.round(value, 2), in_state=in_state)
        return SimpleNamespace(
            frame=frame,
            value=value,
            grabs=make.events([], []),
            services=make.services([]),
            tag=tag or make.tag(),
            instrument=make.instrument(),
        )

    return build


@pytest.fixture(scope="session")
def straying(ailing, make):
    """A sound pH that reads `depth` lower in some stretches, each `hours` long, and snaps back.

    `at` holds the days of their beginnings; `slow` hours long it slides off its course at first.
    """

    def build(at=(150.4,), hours=3.0, depth=1.0, slow=0.0, **changes):
        sensor = ailing(**changes)
        time = np.arange(len(sensor.value)) / 96
        for begin in at:
            since = 24 * (time - begin)
            away = (since >= -1e-9) & (since < hours - 1e-9)
            sensor.value = sensor.value - depth * away * np.clip((since + 0.25) / max(slow, 0.25), 0, 1)
        sensor.frame = make.frame(sensor.frame["time"], np.round(sensor.value, 2))
        return sensor

    return build


def _lagged(value, part, scatter, random):
    from scipy.signal import lfilter

    return lfilter([0.2], [1.0, -0.8], value - value[0]) + value[0]


def _spiked(value, part, scatter, random):
    hit = random.random(len(value)) < 3 / 96
    return value + 20 * scatter * hit


_AILMENTS = {
    "noisy": lambda value, part, scatter, random: value + 3 * scatter * random.standard_normal(len(value)),
    "damped": _lagged,
    "spikes": _spiked,
    "pegged": lambda value, part, scatter, random: np.full(len(value), 14.0),
    "cut off": lambda value, part, scatter, random: np.minimum(value, 7.5),
    "rescaled": lambda value, part, scatter, random: value * 1.6,
    "coarser": lambda value, part, scatter, random: np.round(value, 1),
    "clock_shift": lambda value, part, scatter, random: np.roll(value, 8),
    "flat": lambda value, part, scatter, random: np.full(len(value), 7.4),
}


AILMENTS = ("noisy", "damped", "spikes", "pegged", "rescaled", "coarser", "clock_shift")
"""Kinds that only an ailing recording shows."""


@pytest.fixture(scope="session")
def ailed(ailing, as_known, make):
    """Return the case of a recording that ails as one of `AILMENTS` says."""
    # A pH has no zero to be scaled about; oxygen has.
    oxygen = {"tag": make.tag(measures="dissolved_oxygen", unit="mg/L")}

    def case(kind, day=None, **changes):
        long = {"days": 340, "day": 290} if kind == "clock_shift" else {}
        long = oxygen if kind == "rescaled" else long
        return as_known(ailing(kind, **{**long, **changes}), day)

    return case
