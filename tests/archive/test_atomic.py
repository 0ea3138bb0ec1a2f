"""Atomic files: a failure while writing leaves what was there, and nothing beside it."""

from pathlib import Path

import pytest

from pipeline.archive.atomic import replace_file, replace_text


def test_the_old_file_stands_until_the_new_one_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "x.txt"
    replace_text(path, "old")

    def half(temporary: Path) -> None:
        temporary.write_text("ne")
        assert path.read_text() == "old"
        raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space left"):
        replace_file(path, half)
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["x.txt"]
    replace_text(path, "new")
    assert path.read_text() == "new"
