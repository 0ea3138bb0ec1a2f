"""Query: what is worked out is headed with its expression, whatever else stands in the statement."""

from collections.abc import Callable

import pytest

from pipeline.config.load import Plant
from pipeline.errors import UsageError
from pipeline.query import query

HEADS = {
    "SELECT tag, max(value), count(*) FROM lab GROUP BY tag": "tag|max(value)|count(*)",
    "SELECT DISTINCT upper(tag) FROM lab": "upper(tag)",
    "select round( avg(value), 2 ),\n  upper(tag) from lab group by tag": "round( avg(value), 2 )|upper(tag)",
    "SELECT sum(value) AS total, max(value) as top, min(value) FROM lab": "total|top|min(value)",
    'SELECT sum(value) AS "a, b", tag FROM lab GROUP BY tag': "a, b|tag",
    "SELECT sum(value) / count(*) FROM lab": "sum(value) / count(*)",
    "SELECT tag, sum(value) FROM lab GROUP BY tag ORDER BY sum(value) DESC": "tag|sum(value)",
    "WITH l AS (SELECT max(value) AS m FROM lab) SELECT max(m), min(m) FROM l": "max(m)|min(m)",
    "SELECT replace(tag, ', from (', '-'), max(value) -- the highest\nFROM lab GROUP BY tag": (
        "replace(tag, ', from (', '-')|max(value)"
    ),
    "SELECT time, value FROM lab": "time|value",
    "SELECT * FROM lab": "tag|time|value|unit|method|by|note|below",
    "SELECT max(value) FROM lab;": "max(value)",
}


@pytest.fixture
def bench(make_plant: Callable[..., Plant]) -> Plant:
    """A plant with two results of its bench."""
    plant = make_plant(filters="Time,Filter turbidity\n2026-11-09 00:00,0.05\n")
    (plant.folder / "lab").mkdir()
    lines = "AIT-2,2026-11-09 08:00,1\nTIT-2,2026-11-09 08:00,12\n"
    (plant.folder / "lab" / "bench.csv").write_text(f"tag,time,value\n{lines}")
    return plant


@pytest.mark.parametrize("sql", HEADS)
def test_heads(bench: Plant, sql: str) -> None:
    assert "|".join(query(bench, sql).columns) == HEADS[sql]


def test_selects_put_together_keep_the_names_of_the_engine(bench: Plant) -> None:
    sql = "SELECT max(value) FROM lab UNION ALL SELECT min(value) FROM lab"
    assert query(bench, sql)["value"].to_list() == [12.0, 1.0]


OPENING = {
    "SELECT * FROM read_csv('{file}')",
    "SELECT tag FROM lab JOIN READ_CSV('{file}') ON 1 = 1",
    "SELECT (SELECT max(q) FROM \"read_csv\" ('{file}')) FROM lab",
    "WITH l AS (SELECT q FROM read_csv -- a remark\n('{file}')) SELECT q FROM l",
    "SELECT tag FROM lab WHERE value IN (SELECT q FROM read_csv /* /* */ */ ('{file}'))",
    "SELECT * FROM read_parquet('{file}')",
}


@pytest.mark.parametrize("sql", sorted(OPENING))
def test_no_file_is_opened(bench: Plant, sql: str) -> None:
    """README: a query sees six tables. The engine itself would open any file that the user may read."""
    file = bench.folder / "other.csv"
    file.write_text("q\n1\n")
    with pytest.raises(UsageError, match="would open a file; only these tables are read: trends, lab"):
        query(bench, sql.format(file=file))


def test_a_name_or_a_text_like_that_opens_nothing(bench: Plant) -> None:
    sql = "SELECT time AS read_at, 'read_csv(1)' AS word FROM lab -- read_csv('x')"
    assert query(bench, sql).columns == ["read_at", "word"]
