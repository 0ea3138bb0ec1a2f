"""Path: the way of the water as the config tells it, and what is wrong with a config that does not."""

from datetime import timedelta

import pytest

from pipeline.config.load import load
from pipeline.config.plant import PlantFile
from pipeline.errors import ConfigError
from pipeline.upsets.path import path_of
from tests.upsets.scenes import REPOSITORY

AREAS = [{"id": name, "name": name, "plant": "water"} for name in ("a", "b", "c", "d")]


def path(*reaches, dead=()):
    file = {"name": "P", "time_zone": "UTC", "area": AREAS}
    rows = [{"from": one, "to": other, "minutes": minutes} for one, other, minutes in reaches]
    return path_of(PlantFile.model_validate({**file, "path": rows, "dead_time": list(dead)}))


def test_times_add_up_along_the_way_and_the_quickest_way_counts():
    found = path(("a", "b", 10), ("b", "c", 20), ("a", "c", 45), ("c", "d", 5))
    assert found.travel("a", "c") == timedelta(minutes=30)
    assert found.travel("d", "a") == timedelta(minutes=35)
    assert found.is_downstream("d", "a") and not found.is_downstream("a", "d")


def test_without_a_path_nothing_is_known_of_travel():
    assert path().travel("a", "b") == timedelta()


def test_a_dead_time_is_the_tag_s():
    assert path(dead=[{"tag": "AIT-1", "minutes": 7}]).dead("AIT-1") == timedelta(minutes=7)


@pytest.mark.parametrize(
    "text, words",
    [
        ('[[path]]\nfrom = "intake"\nto = "moon"\nminutes = 5\n', "no area 'moon'"),
        ('[[dead_time]]\ntag = "AIT-999"\nminutes = 5\n', "no tag 'AIT-999'"),
    ],
)
def test_a_config_that_names_what_is_not_there_says_so(tmp_path, text, words):
    (tmp_path / "config").mkdir()
    for file in (REPOSITORY / "config").iterdir():
        content = file.read_text(encoding="utf-8")
        (tmp_path / "config" / file.name).write_text(
            content + "\n" + text if file.name == "plant.toml" else content, encoding="utf-8"
        )
    with pytest.raises(ConfigError) as caught:
        load(tmp_path)
    assert words in str(caught.value)
