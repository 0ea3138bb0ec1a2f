"""The lock: a second writer is told so at once."""

from pathlib import Path

import pytest

from pipeline.archive.lock import writing
from pipeline.errors import BusyError


def test_a_second_writer_is_turned_away(tmp_path: Path) -> None:
    with (
        writing(tmp_path / "archive"),
        pytest.raises(BusyError, match="another run is writing this archive; wait until it has finished"),
        writing(tmp_path / "archive"),
    ):
        pass
    with writing(tmp_path / "archive"):
        pass
