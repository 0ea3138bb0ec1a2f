"""Files: a draft as the four files of a plant's config, every guess with its evidence beside it."""

import csv
import json
from collections.abc import Sequence
from io import StringIO

from pipeline.config.instruments import Instrument
from pipeline.config.limits import Limit
from pipeline.config.tags import Tag
from pipeline.setup.draft import SHOWN, Draft, TagDraft
from pipeline.setup.guess import Guess

AREA = "plant"
TAG_COLUMNS, INSTRUMENT_COLUMNS, LIMIT_COLUMNS = (
    tuple(name for name in model.model_fields if name != "row") for model in (Tag, Instrument, Limit)
)
_EVERY_WEEK = (
    "# When the weekly run comes, by the plant's clock; then: stillwell schedule install",
    "# [schedule]",
    '# day = "monday"',
    '# at = "05:00"',
    "#",
    "# To whom each week's report is sent.",
    "# [mail]",
    '# server = "mail.example.org"',
    '# from = "plant@example.org"',
    '# to = ["superintendent@example.org"]',
)
_DEVICES = {
    "flow": "flow meter",
    "ph": "pH probe",
    "turbidity": "turbidimeter",
    "chlorine": "chlorine analyser",
    "temperature": "temperature probe",
    "level": "level transmitter",
    "pressure": "pressure transmitter",
    "dissolved_oxygen": "oxygen probe",
    "conductivity": "conductivity probe",
    "orp": "ORP probe",
    "uv_intensity": "UV intensity sensor",
    "uv_transmittance": "UV transmittance monitor",
    "head_loss": "differential pressure transmitter",
    "feed": "feed flow meter",
    "rain": "rain gauge",
    "analysis": "analyser",
    "unknown": "",
}


def config_files(draft: Draft, name: str, trends: str) -> dict[str, str]:
    """Return the text of each file of ``config/`` by its name.

    Parameters
    ----------
    draft : Draft
    name : str
        The plant's.
    trends : str
        Folder of the exports, as plant.toml names it.
    """
    return {
        "plant.toml": _plant(draft, name, trends),
        "tags.csv": _table(TAG_COLUMNS, [_row(tag) for tag in draft.tags]),
        "instruments.csv": _table(INSTRUMENT_COLUMNS, _instruments(draft.tags)),
        "limits.csv": _table(LIMIT_COLUMNS, []),
    }


def _plant(draft: Draft, name: str, trends: str) -> str:
    exports = f"{len(draft.looks)} export{'s' * (len(draft.looks) > 1)}"
    lines = [
        f"# Drafted by `stillwell setup` from {exports}. What is marked GUESS rests on",
        "# the evidence beside it and on nothing else: read it, correct it, strike the mark.",
        "# limits.csv is empty: a limit comes from your permit or rule. Then run: stillwell check",
        "",
        f"name = {_text(name)}",
        f"time_zone = {_text(draft.zone.value)}  {_note(draft.zone)}",
        'week_starts = "monday"',
        "",
        "[exports]",
        f"trends = {_text(trends)}",
        'lab = "lab"  # grab samples; the folder need not be there yet',
        'logbook = "logbook"  # calibrations, maintenance windows, verdicts',
        "",
        *_layouts(draft),
        *_reading(draft),
        "",
        "[[area]]",
        f'id = "{AREA}"',
        'name = "The plant"',
        'plant = "water"  # GUESS: no export says; "water" or "wastewater", and as many areas as you like',
        "",
        *_EVERY_WEEK,
    ]
    return "\n".join(lines) + "\n"


def _layouts(draft: Draft) -> list[str]:
    """Return comments that say how each shape of export is written."""
    found: dict[tuple[str, str], list[str]] = {}
    for look in draft.looks:
        found.setdefault((look.layout, look.delimiter), []).append(look.file)
    marks = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe"}
    return [
        f"# {len(files)} of them in the layout '{layout}'"
        + (f" ({marks[mark]})" if mark in marks else "")
        + f", such as {_line(files[0])}"
        for (layout, mark), files in found.items()
    ]


def _reading(draft: Draft) -> list[str]:
    read, lines = draft.read, ["[reading]"]
    example = read.texts.drop_nulls()
    if len(example):
        lines.append(f"# times such as {_line(repr(example[0]))}")
    if read.unread:
        lines.append(f"# {read.unread} readings have a time that we do not know")
    guesses = {
        "date_order": read.date_order,
        "decimal_mark": read.decimal_mark,
        "time_zone": draft.exports_zone,
    }
    for key, guess in guesses.items():
        if guess.value:
            lines.append(f"{key} = {_text(guess.value)}  {_note(guess)}")
        elif guess.evidence:
            lines.append(f"# {key}: {_line(guess.evidence)}")
    if draft.left_out:
        lines.append("ignore_columns = [  # GUESS: columns that hold no readings")
        lines += [f"    {_text(one.pattern)},  # {_line(one.evidence)}" for one in draft.left_out]
        lines.append("]")
    return lines


def _row(tag: TagDraft) -> dict[str, str]:
    cells = {column: tag.guesses[column].value for column in SHOWN}
    device = {} if tag.is_state else {"instrument": instrument_of(tag.tag)}
    name = "" if tag.export_name == tag.tag else tag.export_name
    return {
        "tag": tag.tag,
        "export_name": name,
        "description": described(tag),
        "area": AREA,
        **cells,
        **device,
    }


def described(tag: TagDraft) -> str:
    """Return the words of a tag with the evidence of its guesses behind them."""
    told = {column: guess.evidence for column, guess in tag.guesses.items() if guess.evidence}
    if told.get("low") == told.get("high"):
        told.pop("high", None)
        told = {"span" if column == "low" else column: evidence for column, evidence in told.items()}
    parts = [f"{column}: {evidence}" for column, evidence in told.items()]
    return _line(" | ".join([tag.label, "GUESS", *parts, *(f"LOOK: {remark}" for remark in tag.remarks)]))


def instrument_of(tag: str) -> str:
    """Return the name of the instrument behind a tag: by ISA-5.1 FIT-101 is the signal of FE-101."""
    letters, dash, number = tag.partition("-")
    if dash and letters.isalpha() and letters.isupper():
        first = letters[:2] if letters[1:2] == "D" else letters[:1]
        return f"{first}E-{number}"
    return tag


def _instruments(tags: Sequence[TagDraft]) -> list[dict[str, str]]:
    rows: dict[str, dict[str, str]] = {}
    for tag in tags:
        measure = tag.guesses["measures"].value
        if not tag.is_state:
            name = instrument_of(tag.tag)
            rows.setdefault(
                name, {"instrument": name, "kind": _DEVICES.get(measure, measure.replace("_", " "))}
            )
    return list(rows.values())


def _table(columns: Sequence[str], rows: list[dict[str, str]]) -> str:
    text = StringIO(newline="")
    writer = csv.DictWriter(text, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _note(guess: Guess) -> str:
    return f"# GUESS: {_line(guess.evidence)}"


def _text(text: str) -> str:
    """Return a TOML basic string; JSON's escapes are TOML's too."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _line(text: str) -> str:
    return "".join(letter if letter.isprintable() else " " for letter in text)
