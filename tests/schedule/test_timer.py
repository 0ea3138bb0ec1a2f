"""Installing and removing, through the command, with the systems' programs stood in for by small scripts."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.config.load import Plant

MakePlant = Callable[..., Plant]
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the stand-ins are scripts of sh")

CRONTAB = """#!/bin/sh
# As crontab(1): -l prints it, with status 1 where there is none; - takes a new one from standard input.
case "$1" in
  -l) cat "$HOME/crontab" 2>/dev/null || { echo "no crontab for you" >&2; exit 1; } ;;
  -)  cat > "$HOME/crontab" ;;
esac
"""
SYSTEMCTL = '#!/bin/sh\necho "$@" >> "$HOME/systemctl.log"\n'


@pytest.fixture
def plant(make_plant: MakePlant) -> Plant:
    return make_plant(more='[schedule]\nday = "tuesday"\nat = "06:30"')


def _stillwell(
    plant: Plant, home: Path, programs: dict[str, str], system: str, *words: str
) -> "subprocess.CompletedProcess[str]":
    """Run the command in a home of its own, on a system that has these programs alone."""
    folder = home / "bin"
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in programs.items():
        (folder / name).write_text(text)
        (folder / name).chmod(0o755)
    code = (
        "import sys; from pathlib import Path\n"
        "from pipeline.cli import main; import pipeline.schedule.timer as timer\n"
        f"timer.timer_of_this_system = lambda: timer.TIMERS[{system!r}]\n"
        "timer.os.geteuid = lambda: 1000\n"
        f"main(['--plant', {str(plant.folder)!r}, 'schedule', *{list(words)!r}])"
    )
    env = {"HOME": str(home), "PATH": f"{folder}:/usr/bin:/bin", "TZ": "America/Denver", "USER": "somebody"}
    return subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        env={**env, "PYTHONPATH": os.environ.get("PYTHONPATH", "")},
        cwd=Path(__file__).resolve().parents[2],
    )


def test_cron_is_given_its_line_and_gives_it_back(plant: Plant, tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    (home / "crontab").write_text("MAILTO=me\n0 1 * * * backup\n")
    call = lambda *words: _stillwell(plant, home, {"crontab": CRONTAB}, "cron", *words)  # noqa: E731
    assert "Not installed" in call("show").stdout
    done = call("install")
    assert done.returncode == 0, done.stderr
    assert "every Tuesday at 06:30" in done.stdout
    lines = (home / "crontab").read_text().splitlines()
    assert lines[:2] == ["MAILTO=me", "0 1 * * * backup"]
    assert lines[3].startswith("30 6 * * 2 cd ")
    assert len(lines) == 4
    assert "It is installed" in call("show").stdout
    call("install")
    assert (home / "crontab").read_text().splitlines() == lines
    assert "Removed" in call("remove").stdout
    assert (home / "crontab").read_text() == "MAILTO=me\n0 1 * * * backup\n"
    assert "nothing was done" in call("remove").stdout


def test_a_first_crontab_is_made(plant: Plant, tmp_path: Path) -> None:
    home = tmp_path / "home"
    done = _stillwell(plant, home, {"crontab": CRONTAB}, "cron", "install")
    assert done.returncode == 0, done.stderr
    assert (home / "crontab").read_text().count("\n") == 2


def test_systemd_is_given_a_users_units_and_gives_them_back(plant: Plant, tmp_path: Path) -> None:
    home = tmp_path / "home"
    call = lambda *words: _stillwell(plant, home, {"systemctl": SYSTEMCTL}, "systemd", *words)  # noqa: E731
    done = call("install")
    assert done.returncode == 0, done.stderr
    assert "while you are logged in" in done.stdout
    units = sorted(path.name for path in (home / ".config/systemd/user").iterdir())
    assert [name.rpartition(".")[2] for name in units] == ["service", "timer"]
    told = (home / "systemctl.log").read_text()
    words = ("daemon-reload", f"enable {units[1]}", f"restart {units[1]}")
    assert told.splitlines() == [f"--user {one}" for one in words]
    assert "It is installed" in call("show").stdout
    assert call("remove").returncode == 0
    assert list((home / ".config/systemd/user").iterdir()) == []


def test_what_the_system_says_against_it_is_a_sentence(plant: Plant, tmp_path: Path) -> None:
    broken = "#!/bin/sh\n[ $1 = -l ] && exit 1\necho 'you are not allowed to use this program' >&2\nexit 1\n"
    done = _stillwell(plant, tmp_path / "home", {"crontab": broken}, "cron", "install")
    assert done.returncode == 2
    assert "you are not allowed to use this program" in done.stderr
    assert "Traceback" not in done.stderr
