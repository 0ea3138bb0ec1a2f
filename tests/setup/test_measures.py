"""What names say, against ISA-5.1 and against the hand-written config of Harrow Fork."""

import csv
from pathlib import Path

import pytest

import pipeline
from pipeline.setup.measures import isa_tag, measures

CONFIG = Path(pipeline.__path__[0]) / "demo" / "config"


@pytest.mark.parametrize(
    ("name", "measure"),
    [
        # ISA-5.1, identification letters: first letter the measured variable; D differential; Q integrate.
        ("FIT-101", "flow"),
        ("LT-7", "level"),
        ("PIT_301", "pressure"),
        ("TI 12", "temperature"),
        ("SIC-4", "speed"),
        ("PDIT-121", "head_loss"),
        ("FQI-101", "volume"),
        ("AIT-102", "analysis"),
        ("WT-3", "weight"),
        ("ZT-9", "position"),
        ("JIT-2", "power"),
        ("12-FIT-101", "flow"),
    ],
)
def test_letters(name, measure):
    assert measures(name, is_state=False).value == measure


@pytest.mark.parametrize("name", ["Bay 3", "A1", "OUT-1x", "COD", "pH", "Tank 12", "XQ-1", "DO_mgl"])
def test_no_letters_where_there_are_none(name):
    assert isa_tag(name) is None


def test_words_go_before_letters():
    assert measures("AIT-131 Entry chlorine", is_state=False).value == "chlorine"
    assert measures("FIT-132 Hypochlorite feed", is_state=False).value == "feed"


def test_a_word_is_a_whole_word():
    assert measures("Phase angle", is_state=False).value == "unknown"
    assert measures("Dosage", is_state=False).value != "dissolved_oxygen"


def test_harrow_fork_by_its_names():
    """57 of its measuring tags carry words or letters that decide; an analyser's tag alone says nothing."""
    rows = [
        row
        for row in csv.DictReader((CONFIG / "tags.csv").read_text(encoding="utf-8").splitlines())
        if row["measures"] != "state"
    ]
    names = {row["tag"]: row["export_name"] or row["tag"] for row in rows}
    guesses = {row["tag"]: measures(names[row["tag"]], is_state=False).value for row in rows}
    unsaid = {tag for tag, guess in guesses.items() if guess in ("analysis", "unknown")}
    assert all(names[tag] == tag and tag.startswith("AIT") for tag in unsaid)
    wrong = {row["tag"]: guesses[row["tag"]] for row in rows if guesses[row["tag"]] != row["measures"]}
    assert set(wrong) == unsaid


@pytest.mark.parametrize(
    ("name", "unit", "measure"),
    [
        ("AIT-101", "NTU", "turbidity"),
        ("AIT-102", "pH", "ph"),
        ("AIT-103", "uS/cm", "conductivity"),
        ("Raw", "gpm", "flow"),
        ("Town", "psi", "pressure"),
        ("Deep end", "ft", "unknown"),  # a level, a depth, a head: feet do not tell
        ("AIT-104", "mg/L", "analysis"),
        ("FIT-104", "psi", "flow"),  # the letters speak first; that the unit is odd, the technician sees
        ("Filter turbidity", "mg/L", "turbidity"),
    ],
)
def test_a_unit_tells_what_a_name_does_not(name: str, unit: str, measure: str) -> None:
    """Common practice, no source."""
    assert measures(name, is_state=False, unit=unit).value == measure
