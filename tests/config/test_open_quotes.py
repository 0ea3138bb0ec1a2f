"""A quote that is never closed swallows no rows (RFC 4180: a quoted cell may hold line ends)."""

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.config.load import Plant, load
from pipeline.errors import ConfigError

MakePlant = Callable[..., Plant]
LIMITS = "limit_id,tag,high,source\n"


def _written(make_plant: MakePlant, name: str, text: str) -> Path:
    folder = make_plant().folder
    (folder / "config" / name).write_text(text, encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    ("text", "row"),
    [
        (LIMITS + 'L-1,AIT-1,0.3,"permit, clause 4\nL-2,AIT-1,1,rule\nL-3,AIT-2,4,rule\n', 2),
        (LIMITS + 'L-0,AIT-1,9,rule\nL-1,AIT-1,0.3,"permit\nL-2,AIT-1,1,"rule, 3"\nL-3,AIT-2,4,rule\n', 3),
        (LIMITS + 'L-1,"AIT-1,0.3,permit\nL-2,AIT-1,1,rule\n', 2),
        (LIMITS.replace(",", ";") + 'L-1;AIT-1;0,3;"permit\nL-2;AIT-1;1;rule\n', 2),
    ],
    ids=["to the end", "to the next quote", "in the middle", "semicolons"],
)
def test_a_quote_that_swallows_rows_is_told(make_plant: MakePlant, text: str, row: int) -> None:
    folder = _written(make_plant, "limits.csv", text)
    with pytest.raises(ConfigError) as error:
        load(folder)
    told = [fault for fault in error.value.faults if "a quote is opened and not closed" in fault.problem]
    assert [(fault.file, fault.row) for fault in told] == [("config/limits.csv", row)]


def test_names_that_a_quote_swallowed_are_not_called_missing(make_plant: MakePlant) -> None:
    tags = (
        'tag,area,measures,unit,description\nAIT-1,filters,turbidity,NTU,"filter 1\nAIT-2,filters,ph,pH,x\n'
    )
    folder = _written(make_plant, "tags.csv", tags)
    (folder / "config/limits.csv").write_text("limit_id,tag,high\nL-1,AIT-2,9\n")
    with pytest.raises(ConfigError) as error:
        load(folder)
    assert [fault.file for fault in error.value.faults] == ["config/tags.csv"]


def test_a_source_may_go_on_for_several_lines(make_plant: MakePlant) -> None:
    source = "permit of 2024,\nclause 4, as amended"
    folder = _written(make_plant, "limits.csv", LIMITS + f'L-1,AIT-1,0.3,"{source}"\nL-2,AIT-1,1,rule\n')
    limits = load(folder).limits
    assert (limits["L-1"].source, limits["L-2"].source) == (source, "rule")
