"""Proven: counts where answers are few, a percentage where they are many."""

from dataclasses import replace

import polars as pl

from pipeline.report.page import calibration_page
from pipeline.report.proven import proven
from tests.report.weeks import quiet_week


def _told(**counts: int) -> list[str]:
    names = ("confirmed", "dismissed", "process", "borne_out", "not_borne_out")
    row = {"kind": "out_of_range", **dict.fromkeys(names, 0), **counts}
    return proven(replace(quiet_week(), verdict_tally=pl.DataFrame([row])))


def test_few_answers_are_counted() -> None:
    assert _told(confirmed=3, borne_out=2, not_borne_out=1, process=1) == [
        "out of range: 7 answers, 3 confirmed, 2 borne out by what the service found, 1 the water itself and "
        "1 not borne out by what the service found"
    ]
    assert "%" not in _told(confirmed=19)[0]


def test_many_answers_make_a_share_of_those_that_were_right() -> None:
    """Fifteen of twenty; what was the water itself was no right suspicion of the instrument."""
    (line,) = _told(confirmed=10, borne_out=5, dismissed=3, process=2)
    assert line.startswith("out of range: 20 answers (75\N{NO-BREAK SPACE}% right), ")


def test_no_answer_no_line() -> None:
    assert _told() == []


def test_an_answer_to_nothing_is_told_and_not_lost() -> None:
    (line,) = proven(
        replace(quiet_week(), verdict_tally=pl.DataFrame(), unknown_answers=("AIT-1.drfit.2026-11-03",))
    )
    assert line == "1 answer to no finding there ever was: AIT-1.drfit.2026-11-03; correct the id"


def test_both_pages_say_it() -> None:
    assert "9 confirmed" in calibration_page(quiet_week())
