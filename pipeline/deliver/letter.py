"""Letter: a report's folder as a mail that can be read on a phone, with its pages attached."""

import csv
import json
from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from email.headerregistry import Address
from email.message import EmailMessage
from email.utils import format_datetime, make_msgid
from pathlib import Path

from pipeline.config.limits import Limit
from pipeline.config.mail import Mail

Row = dict[str, str]

CAUTION = (
    "A screening aid for licensed operators, not a compliance determination. A notice that a permit or a "
    "rule asks for runs from when the system knew, not from this letter: see whether it was already given."
)
_PAGES = {
    "weekly": "the weekly page",
    "calibration-list": "the calibration list",
    "field-sheet": "the field sheet",
}
_SEVERITIES = ("act", "watch", "note")
_MOST = 12
"""Lines of each kind; the pages hold the rest."""


def letter(folder: Path, mail: Mail, limits: Mapping[str, Limit], now: datetime) -> EmailMessage:
    """Return the letter of one report.

    Parameters
    ----------
    folder : Path
        The report's.
    mail : Mail
        Who writes, to whom, and which pages go along.
    limits : mapping of str to Limit
        The plant's; they tell whether somebody has to be told that one was passed.
    now : datetime
        When it is sent.
    """
    run = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    message = EmailMessage()
    plant = " ".join(run["plant"].split())
    message["Subject"] = f"{plant} {run['label']}: {run['state']}"
    message["From"] = Address(plant, addr_spec=mail.sender)
    message["To"] = ", ".join(mail.to)
    message["Date"] = format_datetime(now)
    message["Message-ID"] = make_msgid(domain=mail.sender.rpartition("@")[2])
    message.set_content("\n".join(_text(run, folder, mail, limits)))
    for page in mail.attach:
        text = (folder / f"{page}.html").read_text(encoding="utf-8")
        message.add_attachment(text, subtype="html", filename=f"{run['label']}-{page}.html", cte="base64")
    return message


def _text(run: dict[str, str], folder: Path, mail: Mail, limits: Mapping[str, Limit]) -> Iterator[str]:
    yield from (f"{run['plant']}, {_days(run)}", "", run["verdict"], "")
    results = sorted(_rows(folder / "limits.csv"), key=lambda row: _pressing(row, limits))
    outside = [row for row in results if row["status"] == "outside"]
    own = [_limit(row) for row in outside if _is_own(row, limits)]
    others = [_limit(row) for row in outside if not _is_own(row, limits)]
    yield from _part("Possible exceedances, for review: already reported?", others)
    yield from _part("Outside the plant's own limits, for review:", own)
    unknown = [_name(row) for row in results if row["status"] == "not assessable"]
    yield from _part("Could not be assessed:", unknown)
    listed = [_instrument(row) for row in _rows(folder / "calibration-list.csv")]
    yield from _part("Instruments to check, in this order:", listed)
    pages = ", ".join(_PAGES[page] for page in mail.attach)
    yield from ((f"Attached: {pages}. " if pages else "") + f"All of it lies in {folder}.", "", CAUTION)


def _is_own(row: Row, limits: Mapping[str, Limit]) -> bool:
    limit = limits.get(row["limit_id"])
    return limit is not None and limit.is_own


def _pressing(row: Row, limits: Mapping[str, Limit]) -> int:
    limit = limits.get(row["limit_id"])
    return _SEVERITIES.index(limit.severity) if limit else 0


def _part(title: str, lines: list[str]) -> Iterator[str]:
    if lines:
        yield title
        yield from (f"- {line}" for line in lines[:_MOST])
        if len(lines) > _MOST:
            yield f"- and {len(lines) - _MOST} more"
        yield ""


def _rows(path: Path) -> list[Row]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _days(run: dict[str, str]) -> str:
    """Return ``9 November to 15 November 2026``."""
    first = datetime.fromisoformat(run["period_start"]).date()
    last = (datetime.fromisoformat(run["period_end"]) - timedelta(microseconds=1)).date()
    return f"{_day(first)} to {_day(last)} {last.year}"


def _day(day: date) -> str:
    return f"{day.day} {day:%B}"


def _name(row: Row) -> str:
    return f"{row['label'] or row['limit_id']} ({row['tag']})"


def _limit(row: Row) -> str:
    bounds = [("at least", row["limit_low"]), ("at most", row["limit_high"])]
    wanted = " and ".join(f"{words} {_number(bound)}" for words, bound in bounds if bound)
    worst = _number(row["worst"] or row["value"])
    when = ""
    if row["worst_at"]:
        at = datetime.fromisoformat(row["worst_at"])
        when = f" on {at:%A}, {_day(at.date())}"
    source = f" ({row['source']})" if row["source"] else ""
    return f"{_name(row)}: {worst} {row['unit']}{when}; limit {wanted} {row['unit']}{source}"


def _instrument(row: Row) -> str:
    place = f", {row['place']}" if row["place"] else ""
    return f"{row['instrument'] or row['tag']}{place}: {row['why']} Check first: {row['check_first']}."


def _number(text: str) -> str:
    return f"{float(text):.4g}" if text else "?"
