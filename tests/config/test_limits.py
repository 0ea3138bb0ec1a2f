"""Limits.csv: what a statistic takes is asked for, cell by cell."""

import pytest

from pipeline import limits
from pipeline.config.limits import PERIODS, Limit
from pipeline.config.load import load
from pipeline.errors import ConfigError
from pipeline.parts import parts
from pipeline.run import load_plant

HEAD = "limit_id,tag,statistic,low,high,unit,allow,week_starts,second_tag,percentile,rounding,non_detect"
FAULTS = {
    "A,AIT-101,month_share,,0.3,,,,,,,": "allow",
    "A,AIT-101,week_mean,,30,,,,,,,": "week_starts",
    "A,AIT-101,week_mean,,30,,,funday,,,,": "week_starts",
    "A,AIT-101,month_removal,85,,%,,,,,,": "second_tag",
    "A,AIT-101,month_removal,85,,%,,,AIT-999,,,": "second_tag",
    "A,AIT-101,month_percentile,,1,,,,,,,": "percentile",
    "A,AIT-101,month_mean,,1,,,,,,-1,": "rounding",
    "A,AIT-101,month_mean,,1,,,,,,,none": "non_detect",
    "A,AIT-101,month_geometric_mean,,1,,,,,,,zero": "non_detect",
}
SOUND = [
    "A,AIT-101,month_share,,0.3,NTU,95,,,,1,",
    "A,AIT-101,month_removal,85,,%,,,AIT-102,,,half",
    "A,AIT-101,week_mean,,30,,,sunday,,,,",
]


@pytest.mark.parametrize(
    ("source", "notice", "is_own"),
    [
        ("plant's own alarm", "", True),
        ("Plant’s own target", "", True),
        ("own goal at the level of 40 CFR 141.175(b)(2)", "", True),
        ("own goal", "the state, by the end of the next business day", False),
        ("demo permit, clause 3", "", False),
        ("40 CFR 141.72(b)(2)", "", False),
        ("the owner's permit", "", False),
        ("", "", False),
    ],
)
def test_only_a_source_that_says_so_is_the_plant_s_own(source, notice, is_own):
    """Where nothing tells, the number may be a permit's: then the page goes on asking."""
    limit = Limit(row=2, limit_id="A", tag="T", high=1.0, source=source, notice=notice)
    assert limit.is_own is is_own


def _load(tmp_path, row):
    config = tmp_path / "config"
    config.mkdir()
    toml = 'name = "P"\ntime_zone = "UTC"\n[[area]]\nid = "a"\nname = "A"\nplant = "water"\n'
    (config / "plant.toml").write_text(toml, encoding="utf-8")
    tags = "tag,area,measures,unit\nAIT-101,a,turbidity,NTU\nAIT-102,a,turbidity,NTU\n"
    (config / "tags.csv").write_text(tags, encoding="utf-8")
    (config / "instruments.csv").write_text("instrument,kind\n", encoding="utf-8")
    (config / "limits.csv").write_text(f"{HEAD}\n{row}\n", encoding="utf-8")
    needs = {name: getattr(part, "NEEDS", ()) for name, part in parts(limits).items()}
    return load(tmp_path, statistics=needs)


@pytest.mark.parametrize(("row", "named"), FAULTS.items())
def test_what_is_missing_or_wrong_is_named(tmp_path, row, named):
    with pytest.raises(ConfigError) as failed:
        _load(tmp_path, row)
    assert named in str(failed.value)
    assert "row 2" in str(failed.value)


@pytest.mark.parametrize("row", SOUND)
def test_sound_rows(tmp_path, row):
    assert _load(tmp_path, row).limits["A"].tag == "AIT-101"


def test_needs_are_columns():
    for name, part in parts(limits).items():
        assert set(getattr(part, "NEEDS", ())) <= set(Limit.model_fields), name


SEGMENT = """
[[disinfection_segment]]
name = "clearwell"
flow = "FIT-1"
residual = "AIT-1"
ph = "AIT-2"
temperature = "TIT-1"
gallons = 100000
baffling_factor = 0.3
source = "state approval"
"""


@pytest.mark.parametrize(
    ("given", "named"),
    [
        (("FIT-1", "FIT-9"), "FIT-9"),
        (("TIT-1", "AIT-1"), "temperature"),
        (("= 0.3", "= 1.3"), "baffling_factor"),
    ],
)
def test_a_segments_tags_are_there_and_measure_what_they_should(tmp_path, given, named):
    _load(tmp_path, SOUND[0])
    config = tmp_path / "config"
    tags = "FIT-1,a,flow,MGD\nAIT-1,a,chlorine,mg/L\nAIT-2,a,ph,pH\nTIT-1,a,temperature,degF\n"
    with (config / "tags.csv").open("a", encoding="utf-8") as file:
        file.write(tags)
    toml = (config / "plant.toml").read_text(encoding="utf-8")
    (config / "plant.toml").write_text(toml + SEGMENT, encoding="utf-8")
    assert load(tmp_path).file.disinfection_segment[0].name == "clearwell"
    (config / "plant.toml").write_text(toml + SEGMENT.replace(*given), encoding="utf-8")
    with pytest.raises(ConfigError) as failed:
        load(tmp_path)
    assert named in str(failed.value)


@pytest.mark.parametrize(("statistic", "is_sound"), [("month_mean", True), ("daily_mean", False)])
def test_lab_results_only_where_the_statistic_reads_them(tmp_path, statistic, is_sound):
    _load(tmp_path, SOUND[0])
    rows = f"limit_id,tag,statistic,high,basis\nA,AIT-101,{statistic},1,lab\n"
    (tmp_path / "config" / "limits.csv").write_text(rows, encoding="utf-8")
    if is_sound:
        assert load_plant(tmp_path).limits["A"].basis == "lab"
        return
    with pytest.raises(ConfigError, match="basis"):
        load_plant(tmp_path)


def test_a_period_that_no_statistic_knows_is_named():
    with pytest.raises(ValueError, match="day, 7 days, week, 30 days, month, quarter, half-year, year"):
        Limit(row=2, limit_id="A", tag="AIT-101", high=1, period="monthly")
    for period in ("", *PERIODS):
        assert Limit(row=2, limit_id="A", tag="AIT-101", high=1, period=period).period == period
