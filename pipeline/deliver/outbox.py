"""Outbox: which reports still wait to be sent; a letter that could not go goes with the next run."""

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import StringIO

from pipeline.archive.atomic import replace_text
from pipeline.config.load import Plant
from pipeline.deliver.letter import letter
from pipeline.deliver.post import UndeliveredError, send

NAME = "sent.csv"
_COLUMNS = ("label", "sent_at", "to")


@dataclass(frozen=True)
class Posted:
    """What became of one letter.

    Parameters
    ----------
    label : str
        Of its report.
    refused : tuple of str
        Addresses that the server does not take it for; to all others it went.
    kept_by : str
        Why it did not go; empty where it went.
    """

    label: str
    refused: tuple[str, ...]
    kept_by: str = ""


class Outbox:
    """The letters of one plant, noted in ``reports/sent.csv``.

    A report is noted before it is made and ticked off when the server has taken its letter: where a run is
    killed in between, the next one sends it, at worst a second time.

    Parameters
    ----------
    plant : Plant
        One without ``[mail]`` has no letters.
    """

    def __init__(self, plant: Plant) -> None:
        self.plant, self.path = plant, plant.reports / NAME

    def expect(self, labels: Sequence[str]) -> None:
        """Note reports that are about to be made."""
        known = self._lines()
        new = [label for label in labels if label not in known]
        if self.plant.file.mail and new:
            self._note(known | dict.fromkeys(new, ("", "")))

    def send(self, now: datetime) -> Iterator[Posted]:
        """Send what waits, oldest first; where the server keeps one letter, the others wait with it."""
        mail = self.plant.file.mail
        if mail is None:
            return
        lines = self._lines()
        for label, (sent_at, _) in lines.items():
            folder = self.plant.reports / label
            if sent_at or not (folder / "run.json").is_file():
                continue
            try:
                message = letter(folder, mail, self.plant.limits, now)
            except (OSError, ValueError, KeyError) as error:
                remedy = f"make it again: stillwell report --week {label}"
                yield Posted(label, (), f"{folder}: the report cannot be read ({error}); {remedy}")
                continue
            try:
                refused = send(message, mail, self.plant.folder)
            except UndeliveredError as error:
                yield Posted(label, (), str(error))
                return
            lines[label] = (now.isoformat(timespec="seconds"), " ".join(mail.to))
            self._note(lines)
            yield Posted(label, tuple(refused))

    def _lines(self) -> dict[str, tuple[str, str]]:
        if not self.path.is_file():
            return {}
        with self.path.open(encoding="utf-8", errors="replace", newline="") as file:
            rows = [row for row in csv.DictReader(file, restval="") if row.get("label")]
        return {row["label"]: (row.get("sent_at", ""), row.get("to", "")) for row in rows}

    def _note(self, lines: dict[str, tuple[str, str]]) -> None:
        text = StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(_COLUMNS)
        writer.writerows((label, *rest) for label, rest in lines.items())
        replace_text(self.path, text.getvalue())
