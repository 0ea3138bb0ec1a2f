"""Letters over a mail server that is none of ours (aiosmtpd): whole, to everybody, once."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path

import pytest
import trustme
from aiosmtpd.controller import Controller

from pipeline.config.load import Plant, load
from pipeline.deliver.outbox import Outbox, Posted
from tests.deliver.conftest import Box
from tests.deliver.reports import report

Mailing = Callable[..., Plant]
NOW = datetime(2026, 11, 16, 12, 0, tzinfo=UTC)


def _post(plant: Plant, *labels: str) -> list[Posted]:
    outbox = Outbox(plant)
    outbox.expect(labels or ("2026-W46",))
    return list(outbox.send(NOW))


def _letter(box: Box, which: int = 0) -> EmailMessage:
    content = box.envelopes[which].content
    assert isinstance(content, bytes)
    letter = message_from_bytes(content, policy=policy.default)
    assert isinstance(letter, EmailMessage)
    return letter


def _text(letter: EmailMessage) -> str:
    body = letter.get_body(("plain",))
    assert body is not None
    return str(body.get_content())


def test_a_letter_arrives_whole(mailing: Mailing, open_server: Controller, box: Box) -> None:
    """Headers as RFC 5322 asks for them; every page the same bytes as in the folder."""
    plant = mailing(open_server)
    assert _post(plant) == [Posted("2026-W46", ())]
    (envelope,) = box.envelopes
    assert envelope.rcpt_tos == ["super@example.org", "tech@example.org"]
    assert envelope.mail_from == "plant@example.org"
    letter = _letter(box)
    assert letter["Subject"] == "Small plant 2026-W46: For review"
    assert letter["Date"].datetime == NOW
    assert letter["Message-ID"].endswith("@example.org>")
    assert letter["From"].addresses[0].display_name == "Small plant"
    pages = {part.get_filename(): part.get_content() for part in letter.iter_attachments()}
    for page in ("weekly", "calibration-list", "field-sheet"):
        text = (plant.reports / "2026-W46" / f"{page}.html").read_text(encoding="utf-8")
        assert pages[f"2026-W46-{page}.html"] == text


def test_it_can_be_read_without_opening_anything(mailing: Mailing, open_server: Controller, box: Box) -> None:
    plant = mailing(open_server, attach="[]")
    limits = plant.folder / "config/limits.csv"
    limits.write_text("limit_id,tag,high,source\nIFE-1,AIT-1,0.3,plant's own alarm\n")
    _post(load(plant.folder))
    letter = _letter(box)
    text = " ".join(_text(letter).split())
    assert list(letter.iter_attachments()) == []
    assert "9 November to 15 November 2026 Outside 1 of 3 limits, for review" in text
    assert (
        "Possible exceedances, for review: already reported? - Combined filter effluent (AIT-1): 1.2 NTU "
        "on Thursday, 12 November; limit at most 1 NTU (permit, clause 4) Outside the plant's own limits, "
        "for review: - Filter 1 turbidity (AIT-1): 0.5123 NTU on Wednesday, 11 November; limit at most 0.3 "
        "NTU (plant's own alarm)" in text
    )
    assert "Could not be assessed: - CL2 (AIT-2)" in text
    assert "- AE-2, clearwell: Reads 0.19 mg/L below the lab grabs. Check first: a grab side by side." in text
    assert "Finished pH" not in text
    assert "not a compliance determination" in text


def test_a_letter_goes_once(mailing: Mailing, open_server: Controller, box: Box) -> None:
    plant = mailing(open_server)
    _post(plant)
    assert _post(plant) == []
    assert len(box.envelopes) == 1


def test_under_starttls_with_a_password(mailing: Mailing, locked_server: Controller, box: Box) -> None:
    keys = {"security": '"starttls"', "user": '"plant"', "password_file": '"config/mail.password"'}
    plant = mailing(locked_server, **keys)
    (plant.folder / "config/mail.password").write_text("river otter\n")
    assert _post(plant) == [Posted("2026-W46", ())]
    assert len(box.envelopes) == 1


@pytest.mark.parametrize(
    ("password", "told"),
    [("heron", "535"), (None, "mail.password: No such file or directory")],
)
def test_a_wrong_password_is_a_sentence_that_does_not_tell_it(
    mailing: Mailing, locked_server: Controller, box: Box, password: str | None, told: str
) -> None:
    keys = {"security": '"starttls"', "user": '"plant"', "password_file": '"config/mail.password"'}
    plant = mailing(locked_server, **keys)
    if password:
        (plant.folder / "config/mail.password").write_text(password)
    (posted,) = _post(plant)
    assert told in posted.kept_by
    assert "[mail] in config/plant.toml" in posted.kept_by
    assert "heron" not in posted.kept_by
    assert box.envelopes == []


def test_a_server_that_cannot_prove_who_it_is_gets_nothing(
    mailing: Mailing, locked_server: Controller, box: Box, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    trustme.CA().cert_pem.write_to_path(tmp_path / "another.pem")
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "another.pem"))
    (posted,) = _post(mailing(locked_server, security='"starttls"'))
    assert "certificate verify failed" in posted.kept_by
    assert box.envelopes == []


def test_a_server_without_starttls_gets_nothing(mailing: Mailing, open_server: Controller, box: Box) -> None:
    (posted,) = _post(mailing(open_server, security='"starttls"'))
    assert "STARTTLS" in posted.kept_by
    assert box.envelopes == []


def test_what_could_not_go_waits_and_goes_oldest_first(
    mailing: Mailing, open_server: Controller, box: Box
) -> None:
    plant = mailing(open_server)
    mail = plant.file.mail
    assert mail is not None
    nowhere = mail.model_copy(update={"port": 9})
    away = replace(plant, file=plant.file.model_copy(update={"mail": nowhere}))
    (posted,) = _post(away)
    assert "refused" in posted.kept_by
    report(plant.reports / "2026-W47")
    assert [one.label for one in _post(plant, "2026-W47")] == ["2026-W46", "2026-W47"]
    assert [_letter(box, place)["Subject"][12:20] for place in (0, 1)] == ["2026-W46", "2026-W47"]


def test_an_address_that_is_not_taken_costs_the_others_nothing(
    mailing: Mailing, open_server: Controller, box: Box
) -> None:
    box.unknown = {"tech@example.org"}
    plant = mailing(open_server)
    assert _post(plant) == [Posted("2026-W46", ("tech@example.org",))]
    assert _post(plant) == []
    assert box.envelopes[0].rcpt_tos == ["super@example.org"]


def test_where_no_address_is_taken_the_letter_waits(
    mailing: Mailing, open_server: Controller, box: Box
) -> None:
    box.unknown = {"super@example.org", "tech@example.org"}
    plant = mailing(open_server)
    (posted,) = _post(plant)
    assert "none of super@example.org, tech@example.org" in posted.kept_by
    box.unknown = set()
    assert _post(plant) == [Posted("2026-W46", ())]


def test_a_run_killed_before_it_sent_sends_next_time(
    mailing: Mailing, open_server: Controller, box: Box
) -> None:
    """It notes a report before it is made; one that was never made is not sent."""
    plant = mailing(open_server)
    Outbox(plant).expect(["2026-W46", "2026-W47"])
    assert [one.label for one in Outbox(plant).send(NOW)] == ["2026-W46"]
    report(plant.reports / "2026-W47")
    assert [one.label for one in Outbox(plant).send(NOW)] == ["2026-W47"]


def test_reports_from_before_the_mail_are_not_sent(
    mailing: Mailing, open_server: Controller, box: Box
) -> None:
    plant = mailing(open_server)
    report(plant.reports / "2026-W45")
    _post(plant)
    assert len(box.envelopes) == 1


def test_a_report_that_cannot_be_read_keeps_no_other(
    mailing: Mailing, open_server: Controller, box: Box
) -> None:
    plant = mailing(open_server)
    (report(plant.reports / "2026-W45") / "limits.csv").unlink()
    found = _post(plant, "2026-W45", "2026-W46")
    assert "stillwell report --week 2026-W45" in found[0].kept_by
    assert found[1] == Posted("2026-W46", ())


@pytest.mark.parametrize("damage", [b"", b"\xff\xfe\x00", b"a,b\n1,2\n", b"label\n2026-W45\n"])
def test_a_damaged_note_of_what_was_sent_stops_nothing(
    mailing: Mailing, open_server: Controller, box: Box, damage: bytes
) -> None:
    plant = mailing(open_server)
    (plant.reports / "sent.csv").write_bytes(damage)
    assert _post(plant) == [Posted("2026-W46", ())]


def test_a_plant_without_mail_notes_nothing(make_plant: Callable[..., Plant]) -> None:
    plant = make_plant()
    assert _post(plant) == []
    assert not (plant.reports / "sent.csv").exists()
