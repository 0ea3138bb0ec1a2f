"""A mail server on the loopback (aiosmtpd), and a report to send."""

import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from socket import socket
from typing import Any

import pytest
import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session

from pipeline.config.load import Plant
from tests.deliver.reports import report


class Box:
    """What the server took, and whom it takes letters for."""

    def __init__(self) -> None:
        self.envelopes: list[Envelope] = []
        self.unknown: set[str] = set()

    async def handle_RCPT(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if address in self.unknown:
            return "550 no such mailbox"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        self.envelopes.append(envelope)
        return "250 OK"


def _knows(server: SMTP, session: Session, envelope: Envelope, mechanism: str, given: Any) -> AuthResult:
    known = isinstance(given, LoginPassword) and (given.login, given.password) == (b"plant", b"river otter")
    return AuthResult(success=known, handled=known)


@pytest.fixture
def box() -> Box:
    return Box()


@pytest.fixture
def authority(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> trustme.CA:
    """One that OpenSSL trusts while the test runs."""
    authority = trustme.CA()
    authority.cert_pem.write_to_path(tmp_path / "authority.pem")
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "authority.pem"))
    return authority


@contextmanager
def _serving(box: Box, **how: Any) -> Iterator[Controller]:
    with socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = Controller(box, hostname="127.0.0.1", port=port, **how)
    server.start()
    try:
        yield server
    finally:
        server.stop()


@pytest.fixture
def open_server(box: Box) -> Iterator[Controller]:
    """One without encryption."""
    with _serving(box) as server:
        yield server


@pytest.fixture
def locked_server(box: Box, authority: trustme.CA) -> Iterator[Controller]:
    """One that speaks under STARTTLS alone and asks for a password."""
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    authority.issue_cert("localhost").configure_cert(context)
    wanted = {"require_starttls": True, "auth_required": True, "authenticator": _knows}
    with _serving(box, tls_context=context, **wanted) as server:
        yield server


@pytest.fixture
def mailing(make_plant: Callable[..., Plant]) -> Callable[..., Plant]:
    """Make a plant whose [mail] goes to a server, and that has one report."""

    def make(server: Controller, **keys: str) -> Plant:
        given = {
            "server": '"localhost"',
            "port": str(server.port),
            "from": '"plant@example.org"',
            "to": '["super@example.org", "tech@example.org"]',
            "security": '"none"',
        }
        lines = "\n".join(f"{key} = {value}" for key, value in (given | keys).items())
        plant = make_plant(more=f"[mail]\n{lines}")
        report(plant.reports / "2026-W46")
        return plant

    return make
