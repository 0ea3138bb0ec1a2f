"""CT: all 588 cells, the look-ups and regression, worked examples, virus, benchmark and the caps."""

import csv
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from pipeline import calculations
from pipeline.calculations import ct, giardia_log, virus_log
from pipeline.disinfection import virus
from pipeline.disinfection.contact import (
    BAFFLING,
    MOST_GIARDIA_LOGS,
    benchmark,
    contact_minutes,
    giardia_logs,
    monthly_means,
    percent_inactivated,
)
from pipeline.disinfection.giardia import required_ct, smith, table
from pipeline.parts import parts

# 40 CFR 141.74(b)(3)(v), Tables 1.1 to 1.6 (2015 edition), by temperature and residual, pH 6.0 to 9.0; typed
# in from the rule apart from the package's own copy.
PRINTED = {
    (0.5, 0.4): (137, 163, 195, 237, 277, 329, 390),
    (0.5, 1.0): (148, 176, 210, 253, 304, 365, 437),
    (0.5, 2.0): (165, 197, 236, 286, 346, 417, 500),
    (0.5, 3.0): (181, 217, 261, 316, 382, 460, 552),
    (5, 0.4): (97, 117, 139, 166, 198, 236, 279),
    (5, 1.0): (105, 125, 149, 179, 216, 260, 312),
    (5, 2.0): (116, 138, 165, 200, 243, 294, 353),
    (5, 3.0): (126, 151, 182, 221, 268, 324, 389),
    (10, 0.4): (73, 88, 104, 125, 149, 177, 209),
    (10, 1.0): (79, 94, 112, 134, 162, 195, 234),
    (10, 2.0): (87, 104, 124, 150, 182, 221, 265),
    (10, 3.0): (95, 113, 137, 166, 201, 243, 292),
    (15, 0.4): (49, 59, 70, 83, 99, 118, 140),
    (15, 1.0): (53, 63, 75, 90, 108, 130, 156),
    (15, 2.0): (58, 69, 83, 100, 122, 147, 177),
    (15, 3.0): (63, 76, 91, 111, 134, 162, 195),
    (20, 0.4): (36, 44, 52, 62, 74, 89, 105),
    (20, 1.0): (39, 47, 56, 67, 81, 98, 117),
    (20, 2.0): (44, 52, 62, 75, 91, 110, 132),
    (20, 3.0): (47, 57, 68, 83, 101, 122, 146),
    (25, 0.4): (24, 29, 35, 42, 50, 59, 70),
    (25, 1.0): (26, 31, 37, 45, 54, 65, 78),
    (25, 2.0): (29, 35, 41, 50, 61, 74, 88),
    (25, 3.0): (32, 38, 46, 55, 67, 81, 97),
}
PHS = (6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0)
TABLE = table()
EVERY = [
    (t, c, p, TABLE.cells[i, j, k])
    for i, t in enumerate(TABLE.temperature_degc)
    for j, c in enumerate(TABLE.residual_mg_l)
    for k, p in enumerate(TABLE.ph)
]


@pytest.mark.parametrize(("where", "cells"), PRINTED.items(), ids=str)
def test_cells_as_the_rule_prints_them(where, cells):
    temperature, residual = where
    assert tuple(required_ct(temperature, PHS, residual)) == cells


def test_every_cell_is_that_of_the_printed_table():
    """All 588, transcribed from the 2015 edition of the rule, kept here apart from the package's own copy."""
    path = Path(__file__).parent / "ct999_40cfr141_74.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    told = [
        (float(row["temp_C"]), float(row["residual_mgL"]), ph, int(row[f"pH{ph:.1f}"]))
        for row in rows
        for ph in PHS
    ]
    assert len(told) == 588
    t, c, p, cell = (np.array(column) for column in zip(*told, strict=True))
    assert required_ct(t, p, c).tolist() == cell.tolist()


@pytest.mark.parametrize("method", ["conservative", "interpolated"])
def test_every_one_of_the_588_cells_is_met_exactly(method):
    assert len(EVERY) == 588
    t, c, p, cell = (np.array(column) for column in zip(*EVERY, strict=True))
    assert required_ct(t, p, c, method) == pytest.approx(cell, abs=1e-9)


def test_edges_are_those_of_the_rule():
    assert TABLE.temperature_degc.tolist() == [0.5, 5, 10, 15, 20, 25]
    assert TABLE.ph.tolist() == list(PHS)
    assert TABLE.residual_mg_l == pytest.approx(np.arange(2, 16) * 0.2)


def test_the_printed_oddity_is_kept():
    """0.5 degC, pH 7.5, 2.2 mg/L is printed 297, which its neighbours 286 and 298 make look like a slip."""
    assert required_ct(0.5, 7.5, [2.0, 2.2, 2.4]).tolist() == [286, 297, 298]


def test_more_residual_more_ct_and_warmer_less():
    """In words of the table: monotone in residual throughout; in temperature and pH by nature."""
    assert (np.diff(TABLE.cells, axis=1) >= 0).all()
    assert (np.diff(TABLE.cells, axis=0) < 0).all()
    assert (np.diff(TABLE.cells, axis=2) > 0).all()


def test_conservative_look_up_of_the_manual():
    """19 degC, pH 7.2, 1.1 mg/L: the table of 15, the column of 7.5, the row of 1.2: 92 (EPA's manual)."""
    assert required_ct(19, 7.2, 1.1) == 92


def test_interpolation_that_the_note_allows():
    """9 degC, pH 7.2, 1.2 mg/L: 164.4 at 5 degC, 123.2 at 10, so 131.44; the conservative cell is 183."""
    ct99_9 = required_ct([5, 10, 9], 7.2, 1.2, "interpolated")
    assert ct99_9 == pytest.approx([164.4, 123.2, 131.44], abs=1e-9)
    assert required_ct(9, 7.2, 1.2) == 183


def test_interpolation_is_never_above_the_conservative_cell():
    random = np.random.default_rng(1)
    t, p, c = random.uniform(-1, 30, 2000), random.uniform(6, 9, 2000), random.uniform(0, 4, 2000)
    assert (required_ct(t, p, c, "interpolated") <= required_ct(t, p, c) + 1e-9).all()


@pytest.mark.parametrize("method", ["conservative", "interpolated", "smith"])
def test_edges_of_the_table(method):
    """Colder than 0.5, warmer than 25, weaker than 0.4, stronger than 3: the outermost; no pH is invented."""
    assert required_ct(0.1, 7, 1, method) == required_ct(0.5, 7, 1, method)
    assert required_ct(29, 7, 1, method) == required_ct(25, 7, 1, method)
    assert required_ct(10, 7, 0.1, method) == required_ct(10, 7, 0.4, method)
    assert required_ct(10, 7, 3.7, method) == required_ct(10, 7, 3.0, method)
    assert np.isnan(required_ct(10, [5.99, 9.01, np.nan], 1, method)).all()
    assert np.isnan(required_ct([np.nan, 10], 7, [1, np.nan], method)).all()


# Smith, Clark and others (1995), coefficients as two public sources have them; values computed.
@pytest.mark.parametrize(
    ("logs", "t", "c", "ph", "value"),
    [
        (3, 10, 1.0, 7.5, 137.90),
        (0.5, 10, 1.0, 7.5, 22.98),
        (3, 5, 1.0, 7.0, 161.18),
        (3, 0.5, 2.0, 8.0, 357.47),
        (3, 15, 1.2, 7.5, 100.62),
        (3, 20, 1.0, 7.0, 58.36),
        (3, 25, 2.0, 8.0, 67.99),
        (0.5, 12.4, 1.0, 7.5, 19.63),
        (0.5, 12.5, 1.0, 7.5, 19.36),
    ],
)
def test_regression(logs, t, c, ph, value):
    assert smith(logs, t, c, ph) == pytest.approx(value, abs=0.005)


def test_regression_is_nowhere_below_the_table():
    """As its authors meant it to be: 0 of 588 cells."""
    t, c, p, cell = (np.array(column) for column in zip(*EVERY, strict=True))
    assert (smith(3, t, c, p) >= cell).all()


# Smallest, mean and largest ratio of the regression to the printed cells, by temperature [degC]: computed.
RATIOS = {
    0.5: (1.023, 1.045, 1.100),
    5: (1.066, 1.088, 1.126),
    10: (1.004, 1.034, 1.078),
    15: (1.056, 1.096, 1.140),
    20: (1.000, 1.046, 1.092),
    25: (1.058, 1.118, 1.174),
}


@pytest.mark.parametrize(("temperature", "ratios"), RATIOS.items())
def test_regression_beside_the_table(temperature, ratios):
    here = [(c, p, cell) for t, c, p, cell in EVERY if t == temperature]
    c, p, cell = (np.array(column) for column in zip(*here, strict=True))
    found = smith(3, temperature, c, p) / cell
    assert (found.min(), found.mean(), found.max()) == pytest.approx(ratios, abs=5.1e-4)


def test_total_that_the_rule_asks_for_is_what_the_tables_reach():
    """40 CFR 141.72(b)(1): 3 log of Giardia and 4 of viruses by removal and inactivation together."""
    assert (MOST_GIARDIA_LOGS, virus.MOST_LOGS) == (3, 4)


# The same page, 1 log only.
@pytest.mark.parametrize(("ph", "c", "printed"), [(7, 1.0, 70), (8, 0.4, 92)])
def test_one_log_is_a_third(ph, c, printed):
    assert round(float(required_ct(0.5, ph, c)) / 3) == printed


# A water chemist's page prints these for 1, 2 and 3 log at 0.5 degC; they are thirds of the rule's cells,
# rounded.
@pytest.mark.parametrize(
    ("ph", "c", "printed"),
    [(6, 0.4, (46, 91, 137)), (6, 1.0, (49, 99, 148)), (6, 2.0, (55, 110, 165)), (7, 0.4, (65, 130, 195))],
)
def test_lower_credits_are_thirds(ph, c, printed):
    cell = required_ct(0.5, ph, c)
    assert [round(float(cell) * n / 3) for n in (1, 2, 3)] == list(printed)
    for n, value in enumerate(printed, start=1):
        assert giardia_log.calculate(value, 0.5, ph, c) == pytest.approx(n, abs=0.5 * 3 / float(cell) + 1e-9)


def test_half_a_log():
    """134 / 6 at 10 degC, pH 7.5, 1.0 mg/L (computed)."""
    assert required_ct(10, 7.5, 1.0) / 6 == pytest.approx(22.3, abs=0.05)


# Worked examples from cells of the rule; the arithmetic computed.
def _segment(volume, flow, factor, residual, t=10, ph=7.5):
    value = ct.calculate(residual, volume, flow, factor)
    return float(value), float(value / required_ct(t, ph, residual))


def test_one_segment():
    """100,000 gal, 500 gpm, factor 0.3, 1.2 mg/L: T10 60 min, CT 72 of 137: 1.577 log, 97.35 %."""
    assert contact_minutes(100_000, 500, 1.0) == 200
    assert contact_minutes(100_000, 500, 0.3) == pytest.approx(60)
    value, ratio = _segment(100_000, 500, 0.3, 1.2)
    assert (value, ratio) == (pytest.approx(72), pytest.approx(0.5255, abs=5e-5))
    logs = giardia_log.calculate(value, 10, 7.5, 1.2)
    assert logs == pytest.approx(1.577, abs=5e-4)
    assert percent_inactivated(logs) == pytest.approx(97.35, abs=5e-3)


def test_two_segments():
    """20,000 gal before it, 500 gpm, factor 0.5, 0.8 mg/L: CT 16 of 131; together 0.6477: 1.943 log."""
    first, second = _segment(20_000, 500, 0.5, 0.8), _segment(100_000, 500, 0.3, 1.2)
    assert first == (pytest.approx(16), pytest.approx(0.1221, abs=5e-5))
    assert first[1] + second[1] == pytest.approx(0.6477, abs=5e-5)
    assert giardia_logs([first[1], second[1]]) == pytest.approx(1.943, abs=5e-4)


def test_never_more_than_the_tables_reach():
    """72 over the 6 of 4 log is 48 log by proportion: 4; and 3 for Giardia."""
    assert virus_log.calculate(72, 10, 7.5) == 4.0
    assert virus_log.calculate(3, 10, 7.5) == 2.0
    assert giardia_log.calculate(5000, 10, 7.5, 1.2) == 3.0


# US EPA (1991), Table E-7, as a public water-chemistry library cites it; the 1 at 25 degC and 2 log is from
# memory.
E_7 = {
    0.5: (6, 9, 12, 45, 66, 90),
    5: (4, 6, 8, 30, 44, 60),
    10: (3, 4, 6, 22, 33, 45),
    15: (2, 3, 4, 15, 22, 30),
    20: (1, 2, 3, 11, 16, 22),
    25: (1, 1, 2, 7, 11, 15),
}


@pytest.mark.parametrize(("temperature", "cells"), E_7.items())
def test_virus_table(temperature, cells):
    for ph, printed in ((6.0, cells[:3]), (9.0, cells[:3]), (10.0, cells[3:])):
        assert [float(virus.required_ct(temperature, ph, logs)) for logs in (2, 3, 4)] == list(printed)


def test_virus_takes_the_colder_table_and_no_ph_beyond():
    assert virus.required_ct(14.9, 7) == virus.required_ct(10, 7) == 6
    assert np.isnan(virus.required_ct(10, [5.9, 10.1])).all()


# Baffling factors as excerpts quote EPA's manual.
def test_baffling_factors():
    assert list(BAFFLING.values()) == [0.1, 0.3, 0.5, 0.7, 1.0]


def test_no_flow_no_contact_time_to_speak_of():
    assert np.isnan(contact_minutes(1000, [0.0, -1.0, np.nan], 0.3)).all()


def test_benchmark_is_the_least_of_the_monthly_means_not_the_mean_of_minima():
    """40 CFR 141.543. January holds the lowest single value, but the lowest mean is February's."""
    profile = {date(2025, m, d): 2.0 for m in range(1, 13) for d in (1, 8, 15, 22)}
    profile |= {date(2025, 1, 1): 0.2, date(2025, 1, 8): 3.0, date(2025, 1, 15): 3.0, date(2025, 1, 22): 3.0}
    profile |= {date(2025, 2, d): 1.5 for d in (1, 8, 15, 22)}
    assert benchmark(profile) == ((2025, 2), 1.5)
    assert monthly_means(profile)[2025, 1] == pytest.approx(2.3)
    with pytest.raises(ValueError, match="11 months"):
        benchmark({day: log for day, log in profile.items() if day.month > 1})


def test_river_water_in_autumn():
    """Near 55 degF, that is 12.8 degC: between the tables of 10 and 15 (common practice, no source)."""
    degc = (55 - 32) / 1.8
    assert degc == pytest.approx(12.8, abs=0.03)
    assert required_ct(degc, 7.0, 0.8) == required_ct(10, 7.0, 0.8)
    assert required_ct(15, 7.0, 0.8) < required_ct(degc, 7.0, 0.8, "interpolated") < required_ct(10, 7.0, 0.8)


def test_every_calculation_keeps_the_contract():
    found = parts(calculations)
    files = {path.stem for path in Path(calculations.__path__[0]).glob("*.py")} - {"__init__"}
    assert set(found) == files
    for part in found.values():
        assert part.UNIT and part.INPUTS
        inputs = {name: np.array([1.0, 7.0]) for name in part.INPUTS}
        assert part.calculate(**inputs).shape == (2,)
