"""Every part of the open folders keeps its folder's contract."""

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from inspect import signature
from pathlib import Path
from types import ModuleType

import pytest

from pipeline import checks, limits
from pipeline.clock import period_between
from pipeline.finding import SEVERITIES
from pipeline.parts import parts
from pipeline.record import record
from pipeline.result import LimitResult
from tests.checks.conftest import AILMENTS

CHECKS, LIMITS = parts(checks), parts(limits)


def _files(folder: ModuleType) -> list[str]:
    return sorted(path.stem for path in Path(folder.__path__[0]).glob("*.py") if path.stem != "__init__")


def test_files_on_disk_are_the_parts_found():
    assert list(CHECKS) == _files(checks)
    assert list(LIMITS) == _files(limits)


@pytest.mark.parametrize("name", [*CHECKS, *LIMITS])
def test_first_line_is_the_noun_and_its_rule(name):
    first = ({**CHECKS, **LIMITS}[name].__doc__ or "").splitlines()[0]
    noun, colon, rule = first.partition(": ")
    assert re.sub(r"[^a-z]+", "_", noun.lower()) == name
    assert colon and re.match(r"[a-z]", rule)


@pytest.mark.parametrize("name", CHECKS)
def test_settings_have_defaults_and_words(name):
    settings = CHECKS[name].Settings
    assert is_dataclass(settings) and settings.__dataclass_params__.frozen
    assert settings.__doc__ and fields(settings)
    with pytest.raises(AttributeError):
        setattr(settings(), fields(settings)[0].name, None)
    assert list(signature(CHECKS[name].find).parameters) == ["case", "settings"]


@pytest.mark.parametrize("name", CHECKS)
def test_findings_are_well_formed(name, find, as_known, spoilt, sensor, beside, ailed, straying, make):
    calibrated = sensor(100, natural=0.0, step=0.6, onset=350 + 10 / 24, service_days=0)
    calibrated.services = make.services([make.local(2025, 5, 17, 10)])
    cases = [as_known(spoilt(1)), as_known(sensor(100, natural=0.0, drift=0.06, onset=300, service_days=0))]
    cases += [as_known(calibrated), beside(), as_known(straying())]
    cases += [ailed(name)] if name in AILMENTS else []
    found = [finding for case in cases for finding in find(name, case)]
    assert found, "a check that finds nothing here is not tested"
    for finding in found:
        assert finding.kind == name and finding.severity in SEVERITIES
        assert finding.finding_id == f"AIT-101.{name}.{finding.crossed.isoformat()}"
        assert finding.end is None or finding.start < finding.end
        assert finding.evidence.endswith(".") and finding.check_first and finding.reference
        assert not re.search(r"violation|upset|bypass|dose", finding.evidence + finding.check_first)


@pytest.mark.parametrize("name", CHECKS)
def test_nothing_recorded_is_nothing_found(name, find, make):
    case = make.case(make.frame([], []), instrument=make.instrument(), as_of=make.local(2026, 3, 2))
    stream = CHECKS[name].find(case, CHECKS[name].Settings())
    assert isinstance(stream, Iterator)
    assert list(stream) == []


@pytest.mark.parametrize("name", CHECKS)
def test_same_case_same_findings(name, find, as_known, spoilt):
    assert find(name, as_known(spoilt(3))) == find(name, as_known(spoilt(3)))


@pytest.mark.parametrize("name", LIMITS)
def test_a_statistic_answers_even_where_nothing_is_known(name, make):
    case = make.case(make.frame([], []), as_of=make.local(2026, 3, 9))
    limit = make.limit(statistic=name, high=8.0, week_starts="monday", percentile=95.0, percentile_rule="R6")
    period = period_between(make.local(2026, 3, 2).date(), make.local(2026, 3, 8).date(), make.zone)
    assert list(signature(LIMITS[name].assess).parameters) == ["record", "limit", "period"]
    result = LIMITS[name].assess(record(case, limit), limit, period)
    assert isinstance(result, LimitResult)
    assert (result.status, result.value, result.coverage_pct, result.excursions) == (
        "not assessable",
        None,
        0.0,
        (),
    )
