"""Doubts of a config: told, and nothing stops for them."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.config.doubts import doubts
from pipeline.config.load import Plant, load
from pipeline.config.tags import MEASURES
from pipeline.setup.measures import measures

MakePlant = Callable[..., Plant]
CONTRACT = (
    "flow ph turbidity chlorine temperature level pressure dissolved_oxygen conductivity orp uv_intensity "
    "uv_transmittance state speed feed head_loss volume rain"
)

HEAD = "tag,area,measures,unit,recording\n"


def test_a_word_we_do_not_know_is_told_with_the_nearest_we_do(make_plant: MakePlant) -> None:
    """The contract's list of measures ends in an ellipsis: another word is allowed."""
    plant = make_plant(tags=HEAD + "AIT-1,filters,turbidty,NTU,\nX,filters,zzz,1,\nFIT-1,filters,flow,gpm,\n")
    near, far = doubts(plant)
    assert (near.file, near.row, near.column) == ("config/tags.csv", 2, "measures")
    assert "did you mean turbidity?" in str(near)
    assert "those known are flow, ph" in str(far)


def test_a_tag_that_may_die_unseen_is_told(make_plant: MakePlant) -> None:
    plant = make_plant(
        tags=HEAD + "AIT-1,filters,turbidity,NTU,on change\nFIT-1,filters,flow,gpm,on change\n"
    )
    (doubt,) = doubts(plant)
    assert (doubt.row, doubt.column) == (2, "heartbeat_s")


def test_the_words_of_the_contract_and_of_drafts_are_known(make_plant: MakePlant) -> None:
    assert set(CONTRACT.split()) <= set(MEASURES)
    names = (
        "FIT-1",
        "AIT-1",
        "WIT-1",
        "EIT-1",
        "ZIT-1",
        "Nitrate",
        "MLSS",
        "Relative humidity rh",
        "Wind wspd",
    )
    assert {measures(name, is_state=False).value for name in names} <= set(MEASURES)
    assert list(doubts(make_plant())) == []


def test_the_demo_plant_is_in_no_doubt() -> None:
    from pipeline.config.load import load

    assert list(doubts(load(Path(__file__).resolve().parents[2]))) == []


def test_a_folder_that_is_spelt_out_and_not_there_is_told(make_plant: MakePlant) -> None:
    plant = make_plant()
    assert not list(doubts(plant))
    (plant.folder / "trends").rmdir()
    assert [doubt.column for doubt in doubts(plant)] == ["exports.trends"]


def test_a_limit_beyond_the_span_is_told(make_plant: MakePlant) -> None:
    plant = make_plant()
    folder = plant.folder / "config"
    (name,) = [tag for tag in plant.tags.values() if tag.high][:1]
    head = "limit_id,tag,label,statistic,low,high,unit,severity,source\n"
    row = f"L,{name.tag},x,instantaneous,,{{high}},{name.unit},act,s\n"
    for high, told in ((f"{name.high:g}", []), (f"{(name.high or 0) + 1:g}", ["high"])):
        (folder / "limits.csv").write_text(head + row.format(high=high))
        assert [doubt.column for doubt in doubts(load(plant.folder))] == told


def test_a_twin_that_measures_something_else_is_told(make_plant: MakePlant) -> None:
    head = "tag,area,measures,unit,twin\n"
    row = (
        "AIT-1,filters,turbidity,NTU,{twin}\nAIT-2,filters,turbidity,NTU,\nTIT-1,filters,temperature,degC,\n"
    )
    assert not list(doubts(make_plant(tags=head + row.format(twin="AIT-2"))))
    (doubt,) = doubts(make_plant(tags=head + row.format(twin="TIT-1")))
    assert (doubt.row, doubt.column) == (2, "twin")


MAIL = """
[mail]
server = "mail.example.org"
from = "plant@example.org"
to = ["super@example.org"]
user = "plant"
password_file = "mail.password"
"""


@pytest.mark.skipif(os.name != "posix", reason="who may read a file is told otherwise there")
def test_a_password_that_is_not_there_or_open_to_others_is_told(make_plant: MakePlant) -> None:
    plant = make_plant(more=MAIL)
    (missing,) = doubts(plant)
    assert "there is no file" in str(missing)
    path = plant.folder / "mail.password"
    path.write_text("river otter")
    path.chmod(0o644)
    (open_to_others,) = doubts(plant)
    assert "chmod 600" in str(open_to_others)
    assert "otter" not in str(open_to_others)
    path.chmod(0o600)
    assert list(doubts(plant)) == []
