"""Expressions: polars' own Boolean algebra of true, false and not known, and clear errors."""

import polars as pl
import pytest

from pipeline.config.expressions import parse

FRAME = pl.DataFrame(
    {"YS-1": [1.0, 0.0, None], "FIT-102": [60.0, 60.0, 60.0], "running": [True, False, None]}
)


# Three-valued logic as in SQL (ISO/IEC 9075-2, 8.20): unknown and false is false, unknown or true is true.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("YS-1 == 1", [True, False, None]),
        ("YS-1 == 1 and FIT-102 > 50", [True, False, None]),
        ("YS-1 == 1 and FIT-102 > 70", [False, False, False]),
        ("YS-1 == 1 or FIT-102 > 50", [True, True, True]),
        ("not YS-1 == 1", [False, True, None]),
        ("YS-1 != 1 or (FIT-102 <= 50 and YS-1 >= 0)", [False, True, None]),
        ("YS-1 > -0.5 and not (FIT-102 < 60)", [True, True, None]),
        ("YS-1", [True, False, None]),
    ],
)
def test_conditions(text: str, expected: list[bool | None]) -> None:
    assert FRAME.select(parse(text).condition.alias("found"))["found"].to_list() == expected


def test_names_keep_their_hyphens() -> None:
    assert parse("YS-1 == 1 and FIT-102 > 50 or YS-1 == 0").names == ("YS-1", "FIT-102")


@pytest.mark.parametrize(
    "text", ["", "YS-1 ==", "(YS-1 == 1", "YS-1 == 1)", "== 1", "YS-1 = 1", "1", "YS-1 and"]
)
def test_what_is_no_condition_says_so(text: str) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        parse(text)
