"""The README names every verb, option, column, key, kind and statistic that there is."""

import re
from pathlib import Path

import click
import pytest

from pipeline import checks, limits
from pipeline.cli import main
from pipeline.config.instruments import Instrument
from pipeline.config.limits import Limit
from pipeline.config.plant import PlantFile
from pipeline.config.tags import Tag
from pipeline.parts import parts
from pipeline.report import sections

REPOSITORY = Path(__file__).resolve().parents[1]
README = (REPOSITORY / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (REPOSITORY / "DEVELOPERS.md").read_text(encoding="utf-8")


def _words() -> list[str]:
    verbs = [f"stillwell {verb}" for verb in main.commands]
    options = [
        option
        for command in main.commands.values()
        for parameter in command.params
        if isinstance(parameter, click.Option)
        for option in parameter.opts
        if option.startswith("--")
    ]
    columns = [name for model in (Tag, Instrument, Limit) for name in model.model_fields if name != "row"]
    return sorted({*verbs, *options, *columns, *PlantFile.model_fields, *parts(checks), *parts(limits)})


@pytest.mark.parametrize("word", _words())
def test_the_readme_names(word: str) -> None:
    assert re.search(rf"`[^`]*{re.escape(word)}(?![\w-])[^`]*`|\[\[?{re.escape(word)}\]\]?", README), word


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    first, paragraph, following = README.split("\n\n")[:3]
    assert first == "# Stillwell"
    assert "scheduled batch job" in paragraph
    assert not following.startswith(("#", "```", "|"))


def test_every_room_stands_in_the_developers_map() -> None:
    rooms = {path.parent.name for path in (REPOSITORY / "pipeline").glob("*/__init__.py")}
    missing = [room for room in sorted(rooms) if f"{room}/" not in DEVELOPERS]
    assert missing == []


def test_the_sections_contract_is_in_the_developers_page() -> None:
    assert parts(sections)
    assert "`TITLE`, `ORDER`, `render(week)`" in DEVELOPERS
