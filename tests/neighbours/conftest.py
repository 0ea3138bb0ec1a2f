"""Several tags in the same minutes: each with its record, put together as the job puts them together."""

from datetime import timedelta

import numpy as np
import pytest

from pipeline import checks
from pipeline.config.physics import Physics
from pipeline.judge import find_all
from pipeline.neighbours.join import with_neighbours
from pipeline.parts import parts

KINDS = ("copied", "disagrees", "frozen")


@pytest.fixture(scope="session")
def town(make):
    """Return the cases of some tags as known at the end of a local day (None: all of it).

    `shown` holds for each tag its readings from 1 January 2026 on; `tags` changes their config,
    `tolerances` their instruments, `grabs` and `services` their papers.
    """

    def build(
        shown, day=None, tags=None, tolerances=None, grabs=None, services=None, physics=None, step_s=900
    ):
        start = make.local(2026, 1, 1)
        as_of = None if day is None else make.local(day.year, day.month, day.day) + timedelta(0)
        cases = {}
        for name, values in shown.items():
            given = {"measures": "level", "unit": "ft", "high": 1e6, "step_s": step_s}
            tag = make.tag(tag=name, instrument=f"E-{name}", **(given | (tags or {}).get(name, {})))
            device = make.instrument(
                instrument=f"E-{name}", **{"tolerance": 0.25, **(tolerances or {}).get(name, {})}
            )
            times = make.grid(start, len(values) * tag.step_s / 86_400, tag.step_s)
            cases[name] = make.case(
                make.frame(times, values), tag=tag, instrument=None if tag.is_state else device, as_of=as_of,
                grabs=(grabs or {}).get(name), services=(services or {}).get(name),
            )  # fmt: skip
        law = Physics.model_validate(physics or {})
        return with_neighbours(cases, law)

    return build


@pytest.fixture(scope="session")
def found():
    """Return what the checks of several tags say, oldest first."""

    def run(cases, kinds=KINDS):
        settings = {kind: check.Settings() for kind, check in parts(checks).items()}
        said = [finding for finding in find_all(cases, settings) if finding.kind in kinds]
        return sorted(said, key=lambda one: (one.crossed, one.tag))

    return run


@pytest.fixture(scope="session")
def lively(make):
    """Return a signal that moves with nearly every reading: wander of hours about a level, two decimals."""

    def build(seed, days, level=20.0, sd=1.0, grain=0.03, decimals=2, step_s=900):
        random = np.random.default_rng(seed)
        count = round(days * 86_400 / step_s)
        course = level + make.noise(random, count, 0.98, sd)
        return np.round(course + random.normal(0, grain, count), decimals)

    return build
