"""``[[physics.*]]``: tags that are there, units of the right kind, two sides, hours of one day."""

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.config.load import Plant, load
from pipeline.errors import ConfigError

MakePlant = Callable[..., Plant]


def _problems(folder: Path, text: str) -> str:
    with (folder / "config" / "plant.toml").open("a", encoding="utf-8") as file:
        file.write(text)
    with pytest.raises(ConfigError) as error:
        load(folder)
    assert all(fault.file == "config/plant.toml" and fault.remedy for fault in error.value.faults)
    return str(error.value)


FAULTS = {
    "a tag that is not there": (
        '[[physics.running]]\nflow = "FIT-9"\nwhen = "YS-1 == 1"\n',
        "no tag 'FIT-9'",
    ),
    "a condition on a tag that is not there": (
        '[[physics.running]]\nflow = "FIT-2"\nwhen = "YS-9 == 1"\n',
        "no tag or state 'YS-9'",
    ),
    "a condition that is none": ('[[physics.running]]\nflow = "FIT-2"\nwhen = "YS-1 =="\n', "ends where"),
    "a pressure in degrees": (
        '[[physics.base_pressure]]\nlevel = "FIT-2"\npressure = "TIT-2"\n',
        "physics.base_pressure 1: pressure",
    ),
    "hours that run backwards": (
        '[[physics.base_pressure]]\nlevel = "FIT-2"\npressure = "FIT-2"\nhours = [5, 1]\n',
        "not hours of one day",
    ),
    "a balance with one side": (
        '[[physics.balance]]\nname = "b"\ninflows = ["FIT-2"]\noutflows = []\n',
        "two sides",
    ),
    "a meter on both sides": (
        '[[physics.balance]]\nname = "b"\ninflows = ["FIT-2"]\noutflows = ["FIT-2"]\n',
        "both sides",
    ),
    "an analyser that is not there": (
        '[[physics.feed_pace]]\nanalyser = "AIT-9"\nfeed = "FIT-2"\nflow = "FIT-2"\n',
        "no tag 'AIT-9'",
    ),
    "a law that is not known": ('[[physics.magic]]\nflow = "FIT-2"\n', "not a key we know"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_what_is_wrong_is_said_with_its_remedy(make_plant: MakePlant, name: str) -> None:
    text, words = FAULTS[name]
    assert words in _problems(make_plant().folder, text)


def test_a_sound_law_is_read(make_plant: MakePlant) -> None:
    folder = make_plant().folder
    with (folder / "config" / "plant.toml").open("a", encoding="utf-8") as file:
        file.write('[[physics.running]]\nflow = "FIT-2"\nwhen = "YS-1 == 1"\n')
    (law,) = load(folder).file.physics.running
    assert (law.flow, law.when) == ("FIT-2", "YS-1 == 1")
