"""The weekly run of an invented plant ends with a letter; the next run sends none."""

import json
import subprocess
import sys
from pathlib import Path

from aiosmtpd.controller import Controller

from pipeline.demo.plant import make_plant
from tests.deliver.conftest import Box

REPOSITORY = Path(__file__).resolve().parents[2]


def _run(plant: Path) -> "subprocess.CompletedProcess[str]":
    command = [sys.executable, "-m", "pipeline.cli", "--plant", str(plant), "run"]
    return subprocess.run(command, capture_output=True, encoding="utf-8", check=False, cwd=REPOSITORY)


def test_a_week_is_read_judged_and_sent(tmp_path: Path, open_server: Controller, box: Box) -> None:
    plant = tmp_path / "plant"
    make_plant(plant, weeks=3, seed=1, step_minutes=15)
    toml = plant / "config/plant.toml"
    mail = (
        f'\n[mail]\nserver = "127.0.0.1"\nport = {open_server.port}\nsecurity = "none"\n'
        'from = "plant@example.org"\nto = ["super@example.org"]\n'
    )
    toml.write_text(toml.read_text() + mail)
    box.unknown = {"super@example.org"}
    done = _run(plant)
    assert done.returncode == 3
    assert "waits for the next run" in done.stderr
    box.unknown = set()
    done = _run(plant)
    (folder,) = plant.glob("reports/20*")
    assert (done.returncode, f"Sent: the letter of {folder.name}." in done.stdout) == (0, True), done.stderr
    (envelope,) = box.envelopes
    told = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    content = envelope.content
    assert isinstance(content, bytes)
    assert f"Subject: {told['plant']} {told['label']}: {told['state']}".encode() in content
    assert "Sent" not in _run(plant).stdout
    assert len(box.envelopes) == 1
