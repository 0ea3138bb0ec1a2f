"""Clauses: the numbers of the rules as printed, and what a row takes from them."""

from pathlib import Path

import pytest

from pipeline import limits
from pipeline.config.clauses import Clause, clauses, with_clauses
from pipeline.config.limits import Limit
from pipeline.parts import parts

EVERY = clauses()
# Statistic, low, high, allow. 40 CFR, 2015 annual edition, by section; those of 401.17 from memory.
PRINTED = {
    "us_filtration.combined_95": ("month_share_four_hourly", None, 0.3, 95),  # 141.551(a)
    "us_filtration.combined_95_continuous": ("month_share", None, 0.3, 95),
    "us_filtration.combined_maximum": ("instantaneous", None, 1.0, None),  # 141.551(b)
    "us_filtration.individual_1": ("two_consecutive", None, 1.0, None),  # 141.563
    "us_filtration.individual_start": ("two_consecutive_at_four_hours", None, 0.5, None),  # 141.175(b)(2)
    "us_filtration.disinfection_benchmark": ("disinfection_benchmark", None, None, None),  # 141.543
    "us_filtration.distribution_residual": ("undetected_two_months", None, None, 5),  # 141.72(b)(3)
    "us_filtration.individual_three_months": ("months_in_a_row", None, 1.0, 2),
    "us_filtration.individual_two_months": ("months_in_a_row", None, 2.0, 1),
    "us_filtration.entry_residual": ("longest_excursion", 0.2, None, 240),  # 141.72(b)(2): 4 hours
    "us_filtration.entry_residual_any": ("instantaneous", 0.2, None, None),  # 141.75(b)(3)(iii)
    "us_filtration.chlorine_maximum": ("running_annual_average", None, 4.0, None),  # 141.65(a)
    "us_filtration.corrosion_parameter": ("days_outside_half_year", None, None, 9),  # 141.82(g)
    "us_filtration.secondary_ph": ("instantaneous", 6.5, 8.5, None),  # 143.3
    "us_filtration.goal_filtered": ("month_share", None, 0.10, 95),  # optimization goals, 2009
    "us_filtration.goal_settled_clear": ("month_share", None, 1, 95),
    "us_filtration.goal_settled_turbid": ("month_share", None, 2, 95),
    "us_secondary_wastewater.bod_30_equivalent": ("thirty_day_mean", None, 45, None),  # 133.105
    "us_secondary_wastewater.bod_7_equivalent": ("seven_day_mean", None, 65, None),
    "us_secondary_wastewater.bod_removal_equivalent": ("thirty_day_removal", 65, None, None),
    "us_secondary_wastewater.solids_30_equivalent": ("thirty_day_mean", None, 45, None),
    "us_secondary_wastewater.solids_7_equivalent": ("seven_day_mean", None, 65, None),
    "us_secondary_wastewater.solids_removal_equivalent": ("thirty_day_removal", 65, None, None),
    "us_secondary_wastewater.bod_30": ("thirty_day_mean", None, 30, None),  # 133.102(a)
    "us_secondary_wastewater.bod_7": ("seven_day_mean", None, 45, None),
    "us_secondary_wastewater.bod_removal": ("thirty_day_removal", 85, None, None),
    "us_secondary_wastewater.cbod_30": ("thirty_day_mean", None, 25, None),
    "us_secondary_wastewater.cbod_7": ("seven_day_mean", None, 40, None),
    "us_secondary_wastewater.cbod_removal": ("thirty_day_removal", 85, None, None),
    "us_secondary_wastewater.solids_30": ("thirty_day_mean", None, 30, None),  # 133.102(b)
    "us_secondary_wastewater.solids_7": ("seven_day_mean", None, 45, None),
    "us_secondary_wastewater.solids_removal": ("thirty_day_removal", 85, None, None),
    "us_secondary_wastewater.ph": ("instantaneous", 6.0, 9.0, None),  # 133.102(c)
    "us_continuous_ph.month_total": ("month_minutes", None, None, 446),  # 401.17(a)(1), from memory
    "us_continuous_ph.single": ("longest_excursion", None, None, 60),  # 401.17(a)(2), from memory
}


@pytest.mark.parametrize(("name", "numbers"), PRINTED.items())
def test_numbers_of_the_rules(name, numbers):
    clause = EVERY[name]
    assert (clause.statistic, clause.low, clause.high, clause.allow) == numbers


@pytest.mark.parametrize("name", EVERY)
def test_a_clause_is_complete(name):
    """Statistic known, its cells filled in or left to the plant by name, citation and verification told."""
    clause = EVERY[name]
    needs = getattr(parts(limits)[clause.statistic], "NEEDS", ())
    filled = clause.filled()
    for column in needs:
        assert filled.get(column) not in (None, "") or column in clause.plant_gives, column
    assert set(clause.plant_gives) <= set(Limit.model_fields)
    assert clause.low is not None or clause.high is not None or {"low", "high"} & set(clause.plant_gives)
    assert clause.citation and clause.verified and clause.about
    assert ("from memory" in clause.source) == (clause.verified == "from memory")
    told = " ".join((clause.about, clause.notice, clause.citation)).lower()
    assert "violation" not in told and "upset" not in told and "bypass" not in told


def _row(**cells):
    return Limit(row=2, limit_id="A", tag="AIT-130", **cells)


def test_a_row_takes_what_it_leaves_blank():
    (limit,), faults = with_clauses([_row(clause="us_filtration.combined_95")])
    assert faults == []
    assert (limit.statistic, limit.high, limit.allow, limit.unit) == (
        "month_share_four_hourly",
        0.3,
        95,
        "NTU",
    )
    assert limit.source == "40 CFR 141.173(a)(1), 141.551(a), 141.74(c)(1)"
    assert limit.name.startswith("Combined filter effluent")


def test_what_the_row_says_wins():
    row = _row(clause="us_filtration.combined_95", high=0.15, source="permit 7.2", label="CFE")
    (limit,), _ = with_clauses([row])
    assert (limit.high, limit.source, limit.name, limit.allow) == (0.15, "permit 7.2", "CFE", 95)


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"clause": "us_filtration.nothing"}, "clause"),
        ({"clause": "us_filtration.giardia"}, "low"),
        ({"clause": "us_continuous_ph.single"}, "low"),
        ({"clause": "us_secondary_wastewater.bod_removal"}, "second_tag"),
        ({"clause": "us_secondary_wastewater.weekly_average", "high": 45}, "week_starts"),
        ({"clause": "us_filtration.combined_95", "low": 0.4}, "clause"),
    ],
)
def test_what_is_left_to_the_plant_is_asked_for(cells, column):
    found, faults = with_clauses([_row(**cells)])
    assert found == []
    assert [(fault.row, fault.column) for fault in faults] == [(2, column)]


def test_nothing_applies_by_itself():
    plain = _row(high=1.0)
    assert with_clauses([plain]) == ([plain], [])
    assert with_clauses([]) == ([], [])


def test_another_countrys_rules_are_one_more_file(tmp_path):
    text = '[maximum]\nabout = "a"\ncitation = "b"\nverified = "c"\nstatistic = "instantaneous"\nhigh = 4.0\n'
    (tmp_path / "elsewhere.toml").write_text(text, encoding="utf-8")
    found = clauses(tmp_path)
    assert list(found) == ["elsewhere.maximum"]
    assert isinstance(found["elsewhere.maximum"], Clause)


# Days by which the follow-up falls due, and who hears first: 40 CFR 141.175(b) and (c), 141.563,
# 141.75(b)(3)(iii), subpart Q, appendix A, note 6 (2015 edition).
@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("combined_maximum", ("end of the next business day", "within 24 hours")),
        ("individual_1", ("within 7 days",)),
        ("individual_start", ("within 7 days",)),
        ("individual_three_months", ("within 14 days",)),
        ("individual_two_months", ("within 30 days (60", "within 90 (120)")),
        ("entry_residual", ("end of the next business day",)),
        ("entry_residual_any", ("end of the next business day", "within 4 hours")),
    ],
)
def test_what_follows_and_by_when(name, words):
    notice = EVERY[f"us_filtration.{name}"].notice
    assert all(word in notice for word in words)


# A failed instrument: 40 CFR 141.174(b) and 141.561 (turbidimeter of a filter), 141.74(c)(2) (residual).
@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("individual_1", ("every 4 hours", "5 working days", "14 days below 10,000")),
        ("entry_residual", ("every 4 hours", "5 working days")),
    ],
)
def test_what_is_asked_for_while_an_instrument_does_not_record(name, words):
    told = EVERY[f"us_filtration.{name}"].on_failure
    assert all(word in told for word in words)


def test_the_readme_names_every_clause_with_its_citation():
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    for name, clause in EVERY.items():
        assert f"| `{name}` | {clause.about} | {clause.source} |" in readme
