"""Install: a machine without a browser gets one by the first way that works, and is told if none does."""

from types import SimpleNamespace

import pytest

from tests.browser import install


@pytest.fixture
def machine(monkeypatch):
    """A machine: which commands it has, whose rights, and which of them bring a browser."""

    def made(has=("apt-get", "sudo"), is_root=False, brings=()):
        ran = []

        def run(command, **options):
            ran.append(command)
            assert options["stdin"] is not None, "nobody is there to answer"
            return SimpleNamespace(returncode=0 if "update" in command or _is_among(command, brings) else 1)

        monkeypatch.setattr(install, "which", lambda name: f"/usr/bin/{name}" if name in has else None)
        monkeypatch.setattr(install.os, "geteuid", lambda: 0 if is_root else 1000, raising=False)
        monkeypatch.setattr(install.subprocess, "run", run)
        monkeypatch.setattr(install, "is_there", lambda: any(_is_among(one, brings) for one in ran))
        return ran

    return made


def _is_among(command, words):
    return any(word in command for word in words)


def test_playwrights_own_comes_first(machine):
    ran = machine(brings=("playwright",))
    assert install.main() == 0
    assert [command[1:] for command in ran] == [("-m", "playwright", "install", "chromium")]


def test_where_it_cannot_be_reached_debians_is_taken(machine):
    ran = machine(is_root=True, brings=("apt-get",))
    assert install.main() == 0
    assert [command[0] for command in ran[1:]] == ["apt-get", "env"]
    assert ran[-1][-1] == "chromium"


def test_without_rights_sudo_is_asked_but_never_for_a_password(machine):
    ran = machine(brings=("apt-get",))
    assert install.main() == 0
    assert all(command[:2] == ("sudo", "--non-interactive") for command in ran[1:])


@pytest.mark.parametrize("has", [(), ("apt-get",)])
def test_where_nothing_helps_it_says_what_to_do(machine, has, capsys):
    ran = machine(has=has)
    assert install.main() == 1
    assert len(ran) == 1
    assert "STILLWELL_BROWSER" in capsys.readouterr().err
