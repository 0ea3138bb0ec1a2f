"""Judge: settings with every fault at once, and a week put together even from odd verdicts."""

from datetime import date
from pathlib import Path

import polars as pl
import pytest

from pipeline import checks
from pipeline.clock import period_between
from pipeline.config.load import Plant
from pipeline.config.plant import PlantFile
from pipeline.errors import ConfigError
from pipeline.judge import judge, settings_of
from pipeline.parts import parts
from pipeline.table import VERDICTS


def _plant(**chosen):
    area = {"id": "plant", "name": "Plant", "plant": "water"}
    file = PlantFile(name="Harrow Fork", time_zone="America/Denver", area=[area], checks=chosen)
    return Plant(Path(), file, {}, {}, {})


def test_settings_are_the_defaults_with_what_the_plant_changed():
    found = settings_of(_plant(gap={"longest_minutes": 60.0}))
    assert set(found) == set(parts(checks))
    assert found["gap"].longest_minutes == 60.0
    assert found["frozen"] == parts(checks)["frozen"].Settings()


def test_every_wrong_setting_is_named_at_once():
    with pytest.raises(ConfigError) as failed:
        settings_of(_plant(gap={"longest": 60.0, "longest_minutes": "often"}, frozen={"hours": 1}))
    text = str(failed.value)
    for place in ("checks.gap.longest", "checks.gap.longest_minutes", "checks.frozen.hours"):
        assert place in text
    assert "use one of" in text


def test_verdicts_are_counted_by_kind_over_a_year_and_an_odd_one_stops_nothing(make):
    rows = [
        ("AIT-101.drift.2026-10-01", "confirmed", (2026, 11, 1)),
        ("AIT.101.drift.2026-10-02", "dismissed", (2026, 11, 2)),
        ("AIT-101.frozen.2026-10-03", "process", (2026, 11, 3)),
        ("AIT-101.frozen.2024-10-03", "process", (2024, 11, 3)),
        ("drift", "confirmed", (2026, 11, 4)),
    ]
    verdicts = pl.DataFrame(
        [{"finding_id": f, "verdict": v, "by": "rl", "time": make.utc(*t), "note": ""} for f, v, t in rows],
        schema=VERDICTS,
    )
    plant, period = _plant(), period_between(date(2026, 11, 9), date(2026, 11, 15), make.zone)
    week = judge(plant, period, {}, settings_of(plant), verdicts)
    assert week.verdict_tally.rows() == [("drift", 1, 1, 0, 0, 0), ("frozen", 0, 0, 1, 0, 0)]
    assert week.findings == week.entries == week.limits == week.excursions == ()
