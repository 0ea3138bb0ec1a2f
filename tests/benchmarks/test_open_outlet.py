"""Outlet record: an invented one with known events, read and scored as the real one is."""

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from benchmarks.open_records_outlet import Outlet, outlet, rows

START = datetime(2021, 8, 3)
DAYS = 4
EVENTS = ((2 * 1440 + 100, 20), (3 * 1440 + 300, 20))
"""First minute and length."""

HEADER = '"","Time","Tp","Cl","pH","Redox","Leit","Trueb","Cl_2","Fm","Fm_2","EVENT"'


def write(path: Path, shift: int = 0) -> Path:
    """Write four days by the minute, the first lines unread ("NA"), labels `shift` minutes late."""
    random, n = np.random.default_rng(11), DAYS * 1440
    level = {"Tp": 8.0, "Cl": 0.17, "pH": 8.3, "Redox": 750, "Leit": 211, "Trueb": 0.02, "Cl_2": 0.11}
    scatter = {"Tp": 0.1, "Cl": 0.01, "pH": 0.02, "Redox": 1.5, "Leit": 2.0, "Trueb": 0.002, "Cl_2": 0.002}
    values = {name: level[name] + scatter[name] * random.normal(size=n) for name in level}
    label = np.zeros(n, dtype=bool)
    for begin, length in EVENTS:
        for name in ("pH", "Leit", "Trueb", "Redox"):
            values[name][begin : begin + length] += 6 * scatter[name]
        label[begin + shift : begin + shift + length] = True
    lines = [HEADER]
    for row in range(n):
        when = START + timedelta(minutes=row)
        cells = ["NA"] * 7 if row < 3 else [f"{values[name][row]:.6f}" for name in level]
        lines.append(
            f'"{row + 1}",{when:%Y-%m-%d %H:%M:%S},{",".join(cells)},1600,900,{str(label[row]).upper()}'
        )
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> Outlet:
    return outlet(write(tmp_path_factory.mktemp("outlet") / "outlet.csv"))


def figures(held: Outlet) -> dict[str, float | None]:
    return {row.id.removeprefix("detection-open-outlet-"): row.figure for row in rows(held)}


def test_labels_are_the_events_as_written(held: Outlet) -> None:
    assert [(end - begin) // timedelta(minutes=1) for begin, end in held.events] == [19, 19]


def test_a_detector_that_finds_all(held: Outlet) -> None:
    found = figures(held)
    volume = found.pop("vus-pr")
    assert found == {
        "recall": 1.0, "precision": 1.0, "f1": 1.0, "false-per-week": 0.0, "unread": 0.0,
    }  # fmt: skip
    # Alarms reach past the short events by as long again: the window of five minutes, and ties.
    assert volume is not None and 0.5 < volume < 1.0


def test_the_same_alarms_fail_on_labels_half_a_day_late(tmp_path: Path) -> None:
    found = figures(outlet(write(tmp_path / "late.csv", shift=720)))
    assert (found["recall"], found["precision"], found["f1"]) == (0.0, 0.0, 0.0)
    assert found["false-per-week"] == pytest.approx(2 / (DAYS / 7), rel=0.01)


def test_a_limit_out_of_reach_finds_nothing(tmp_path: Path) -> None:
    found = figures(outlet(write(tmp_path / "deaf.csv"), limit=1000.0))
    assert (found["recall"], found["precision"], found["f1"]) == (0.0, None, 0.0)
