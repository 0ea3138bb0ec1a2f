"""Parts: found by walking a folder, in name order, nothing listed by hand."""

import sys
from types import ModuleType

import pytest

from pipeline.parts import parts


@pytest.fixture
def folder(tmp_path, monkeypatch):
    home = tmp_path / "toolbox"
    home.mkdir()
    for name in ("__init__", "zinc", "amber", "mole"):
        (home / f"{name}.py").write_text(f"NAME = {name!r}\n", encoding="utf-8")
    (home / "drawer").mkdir()
    (home / "drawer" / "__init__.py").write_text("", encoding="utf-8")
    (home / "notes.txt").write_text("no part", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    import toolbox

    yield toolbox
    for name in [name for name in sys.modules if name.split(".")[0] == "toolbox"]:
        del sys.modules[name]


def test_every_file_is_a_part_in_name_order(folder):
    found = parts(folder)
    assert list(found) == ["amber", "mole", "zinc"]
    assert all(isinstance(part, ModuleType) and name == part.NAME for name, part in found.items())


def test_a_new_file_is_found_without_a_list(folder, tmp_path):
    (tmp_path / "toolbox" / "brass.py").write_text("NAME = 'brass'\n", encoding="utf-8")
    assert "brass" in parts(folder)


def test_a_broken_part_is_not_skipped_in_silence(folder, tmp_path):
    (tmp_path / "toolbox" / "torn.py").write_text("import nothing_of_this_name\n", encoding="utf-8")
    with pytest.raises(ModuleNotFoundError):
        parts(folder)
