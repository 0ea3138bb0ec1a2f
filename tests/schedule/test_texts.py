"""What the systems' timers are given, held against their manuals, their tools, and a reader of crontabs."""

import plistlib
import shutil
import subprocess
from datetime import datetime, time
from pathlib import Path
from xml.etree.ElementTree import fromstring
from zoneinfo import ZoneInfo

import pytest
from cronsim import CronSim
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock import zone_of
from pipeline.schedule import crontab, launchd, systemd, windows
from pipeline.schedule.task import Task

NOW = datetime.fromisoformat("2026-11-30T12:00-07:00")
DENVER = ZoneInfo("America/Denver")
SYSTEMD = pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd-analyze is not here")


def _task(folder: str = "/srv/oak hill", day: int = 0, zone: str = "America/Denver") -> Task:
    command = ("/opt/still well/bin/stillwell", "--plant", folder, "run")
    return Task(
        "stillwell-oak-hill", 'Oak "Hill" 100%', Path(folder), command, day, time(5, 30), zone_of(zone)
    )


@pytest.mark.parametrize("day", range(7))
def test_a_crontab_fires_on_the_day(day: int) -> None:
    """crontab(5): 0 and 7 are Sunday. Read by cronsim, a library that follows Debian's cron."""
    task = _task(day=day)
    first = task.following(NOW).astimezone(DENVER)
    schedule = " ".join(crontab.lines(task, first)[1].split()[:5])
    assert next(CronSim(schedule, NOW.astimezone(DENVER))) == first
    assert first.weekday() == day


def test_a_crontabs_command_reaches_the_program_as_it_is_meant(tmp_path: Path) -> None:
    """crontab(5): a % that is not escaped ends the command; cron hands the rest to sh."""
    folder = tmp_path / "it's 100% oak hill"
    (folder / "reports").mkdir(parents=True)
    program = tmp_path / "say it"
    program.write_text('#!/bin/sh\nprintf "%s\\n" "$PWD" "$@"\n')
    program.chmod(0o755)
    task = Task("t", "A plant", folder, (str(program), "--plant", str(folder), "run"), 0, time(5), DENVER)
    command = crontab.lines(task, task.following(NOW))[1].split(" ", 5)[5]
    assert "%" not in command.replace(r"\%", "")
    subprocess.run(["sh", "-c", command.replace(r"\%", "%")], check=True)
    assert task.log.read_text().splitlines() == [str(folder), "--plant", str(folder), "run"]


OTHERS = st.lists(st.text(st.characters(blacklist_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=40))


@given(OTHERS)
def test_other_lines_of_a_crontab_stand_as_they_stood(others: list[str]) -> None:
    before = "".join(f"{line}\n" for line in others)
    task = _task()
    with_it = crontab.with_task(before, task, task.following(NOW))
    assert crontab.has_task(with_it, task)
    assert crontab.with_task(with_it, task, task.following(NOW)) == with_it
    assert crontab.without_task(with_it, task) == before


@SYSTEMD
@pytest.mark.parametrize("zone", ["America/Denver", "-07:00", "UTC", "+05:30"])
@pytest.mark.parametrize("day", range(7))
def test_systemd_itself_says_that_its_timer_elapses_then(day: int, zone: str) -> None:
    task = _task(day=day, zone=zone)
    first = task.following(datetime.now().astimezone())
    done = subprocess.run(
        ["systemd-analyze", "calendar", systemd.calendar(task, first)],
        capture_output=True,
        text=True,
        check=True,
        env={"TZ": "UTC", "PATH": "/usr/bin:/bin"},
    )
    line = next(line for line in done.stdout.splitlines() if "Next elapse" in line)
    elapse = datetime.strptime(line.split(": ", 1)[1], "%a %Y-%m-%d %H:%M:%S UTC")
    assert elapse.replace(tzinfo=ZoneInfo("UTC")) == first


@SYSTEMD
def test_systemd_itself_finds_no_fault_in_the_units(tmp_path: Path) -> None:
    task = Task(
        "stillwell-oak",
        'Oak "Hill" 100%',
        tmp_path,
        ("/bin/echo", "a b", "$HOME", '"%i"'),
        0,
        time(5),
        DENVER,
    )
    for name, text in systemd.units(task, task.following(NOW)).items():
        (tmp_path / name).write_text(text)
    done = subprocess.run(
        ["systemd-analyze", "verify", *map(str, sorted(tmp_path.glob("stillwell-oak.*")))],
        capture_output=True,
        text=True,
        check=False,
    )
    told = [line for line in (done.stdout + done.stderr).splitlines() if "stillwell-oak" in line]
    assert told == []


def test_a_missed_run_is_made_up_for() -> None:
    """systemd.timer(5) Persistent=; Task Scheduler schema, StartWhenAvailable."""
    task = _task()
    first = task.following(NOW)
    assert "\nPersistent=true\n" in systemd.units(task, first)["stillwell-oak-hill.timer"]
    assert _texts(windows.document(task, first), "StartWhenAvailable") == ["true"]


@pytest.mark.parametrize("day", range(7))
def test_an_agent_of_launchd_fires_on_the_day(day: int) -> None:
    """launchd.plist(5), StartCalendarInterval: 0 and 7 are Sunday."""
    task = _task(day=day)
    agent = plistlib.loads(launchd.agent(task, task.following(NOW)))
    when = agent["StartCalendarInterval"]
    assert (when["Weekday"], when["Hour"], when["Minute"]) == ((day + 1) % 7, 5, 30)
    assert tuple(agent["ProgramArguments"]) == task.command


@pytest.mark.parametrize("day", range(7))
def test_a_windows_task_fires_on_the_day(day: int) -> None:
    """Task Scheduler schema 1.2 (namespace of 2004/02/mit/task), weekly trigger; from memory."""
    task = _task(day=day)
    first = task.following(NOW)
    text = windows.document(task, first)
    names = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
    days = fromstring(text.split("\n", 1)[1]).find(".//{*}DaysOfWeek")
    assert days is not None
    assert [one.tag.rpartition("}")[2] for one in days] == [names[day]]
    assert _texts(text, "StartBoundary") == [f"{first:%Y-%m-%d}T05:30:00"]


def test_a_windows_task_is_quoted_for_cmd() -> None:
    """`cmd /s /c` takes off the first and the last quote and leaves all others (``cmd /?``; from memory)."""
    task = _task(r"C:\oak hill")
    (arguments,) = _texts(windows.document(task, task.following(NOW)), "Arguments")
    switches, _, command = arguments.partition(' "')
    assert switches == "/d /s /c"
    assert command.removesuffix('"').startswith(
        r'"/opt/still well/bin/stillwell" "--plant" "C:\oak hill" "run" >> '
    )


def _texts(document: str, name: str) -> list[str | None]:
    return [
        one.text for one in fromstring(document.split("\n", 1)[1]).iter() if one.tag.endswith(f"}}{name}")
    ]
