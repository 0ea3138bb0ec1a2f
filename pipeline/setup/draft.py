"""Draft: all guesses about a plant's exports put together, tag by tag."""

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.errors import RefusedError
from pipeline.setup.clock import clock, season
from pipeline.setup.columns import LeftOut, is_reading, left_out, odd_words
from pipeline.setup.guess import Guess, Signal
from pipeline.setup.look import Look
from pipeline.setup.measures import measures
from pipeline.setup.names import label, tag_names
from pipeline.setup.reading import Read, read
from pipeline.setup.recording import recording
from pipeline.setup.sentinels import Candidate, candidates, without
from pipeline.setup.span import resolution, span
from pipeline.setup.states import states
from pipeline.setup.twins import Alike, alike
from pipeline.setup.unit import unit, unknown

SHOWN = ("measures", "unit", "low", "high", "resolution", "step_s", "recording", "heartbeat_s", "states")
"""Columns of tags.csv that are guessed, in the order in which their evidence is told."""
_MOST_ALIKE = 5
"""Tags alike to one that are named beside it."""


@dataclass(frozen=True)
class TagDraft:
    """One row of tags.csv.

    Parameters
    ----------
    tag, export_name, label : str
        Our name, the export's, and words for people.
    guesses : dict of str to Guess
        By column of tags.csv, as in `SHOWN`.
    remarks : tuple of str
        What people should look at before they use the draft.
    """

    tag: str
    export_name: str
    label: str
    guesses: dict[str, Guess]
    remarks: tuple[str, ...]

    @property
    def is_state(self) -> bool:
        """Whether it is drafted as the state of a machine."""
        return self.guesses["measures"].value == "state"


@dataclass(frozen=True)
class Draft:
    """A plant's config, drafted.

    Parameters
    ----------
    looks : tuple of Look
        The exports it rests on.
    read : Read
        How they write times and numbers.
    zone : Guess
        ``time_zone``.
    exports_zone : Guess
        ``[reading] time_zone``; blank where the exports are on the plant's clock, or say what they are on.
    tags : tuple of TagDraft
        In the order of the exports.
    left_out : tuple of LeftOut
        Columns that hold no readings.
    alike : tuple of Alike
        Pairs of columns that are copies or go together.
    """

    looks: tuple[Look, ...]
    read: Read
    zone: Guess
    exports_zone: Guess
    tags: tuple[TagDraft, ...]
    left_out: tuple[LeftOut, ...]
    alike: tuple[Alike, ...]


def draft(looks: Sequence[Look], zone: str | None = None) -> Draft:
    """Draft a config from exports.

    Parameters
    ----------
    looks : sequence of Look
        At least one.
    zone : str, optional
        The plant's time zone as the user named it.

    Raises
    ------
    RefusedError
        No column of any export holds readings.
    """
    found = read(looks)
    kept = [signal for signal in found.signals if is_reading(signal)]
    if not kept:
        raise RefusedError(looks[0].file, *_why_none(found))
    names = tag_names([signal.name for signal in kept])
    pairs = alike([without(signal, candidates(signal)) for signal in kept])
    of_name: dict[str, list[Alike]] = {}
    for pair in pairs:
        of_name.setdefault(pair.first, []).append(pair)
        of_name.setdefault(pair.second, []).append(pair)
    letters = next((look.zone_letters for look in looks if look.zone_letters), None)
    plant = clock(found.texts, found.walls, looks[0].when_header, zone)
    return Draft(
        looks=tuple(looks),
        read=found,
        zone=plant,
        exports_zone=season(letters, found.walls, plant.value) if letters else Guess(""),
        tags=tuple(_tag(signal, names, of_name.get(signal.name, [])) for signal in kept),
        left_out=tuple(left_out(found.signals)),
        alike=tuple(pairs),
    )


def _why_none(found: Read) -> tuple[str, str]:
    """Return what is wrong with exports without a column of readings, and what to do."""
    unread = found.texts.filter(found.walls.is_null())
    if not found.signals and len(unread):
        return f"its times are none that we know: {unread[0]!r}", "export them as 2026-01-05 14:30"
    shown = ", ".join(signal.name for signal in found.signals[:6]) or "none"
    remedy = "export the readings as numbers under the name of their tag"
    return f"no column of it holds readings (columns: {shown})", remedy


def _tag(signal: Signal, names: dict[str, str], pairs: list[Alike]) -> TagDraft:
    state = states(signal)
    measure = measures(signal.name, state is not None, unit(signal.name, "", signal.unit).value)
    suspects = () if state else candidates(signal)
    clean = without(signal, suspects)
    recorded = recording(signal, state is not None)
    blank = Guess("")
    low, high = (blank, blank) if state else span(clean, measure.value)
    guesses = {
        "measures": measure,
        "unit": unit(signal.name, measure.value, signal.unit),
        "low": low,
        "high": high,
        "resolution": blank if state else resolution(clean),
        "step_s": recorded.step_s,
        "recording": recorded.recording,
        "heartbeat_s": recorded.heartbeat_s,
        "states": state or blank,
    }
    remarks = [
        *_of_values(signal, suspects, state is not None),
        recorded.thinned,
        *_of_pairs(signal, names, pairs),
    ]
    tag = names[signal.name]
    return TagDraft(
        tag, signal.name, label(signal.name, tag), guesses, tuple(text for text in remarks if text)
    )


def _of_values(signal: Signal, suspects: tuple[Candidate, ...], is_state: bool) -> list[str]:
    remarks = []
    if suspects:
        listed, cell = ", ".join(map(str, suspects)), "|".join(str(one).split(" ")[0] for one in suspects)
        remarks.append(f"no reading at {listed}? then write sentinels = {cell}")
    if not is_state and (text := unknown(signal.name, signal.unit)):
        remarks.append(f"is {text!r} a unit? then write as export_unit which; it is not converted")
    odd = odd_words(signal)
    if not is_state and not odd.is_empty():
        remarks.append(
            f"{len(odd)} of {signal.readings.height} cells are no numbers, such as {odd.sort()[0]!r}"
        )
    if signal.words.is_empty() and signal.numbers.n_unique() == 1:
        remarks.append("never changes: a reading at all, or a column for ignore_columns?")
    return remarks


def _of_pairs(signal: Signal, names: dict[str, str], pairs: list[Alike]) -> list[str]:
    remarks = []
    for pair in pairs[:_MOST_ALIKE]:
        other = names[pair.second if signal.name == pair.first else pair.first]
        word = "looks like a copy of" if pair.is_copy else "goes along with"
        remarks.append(f"{word} {other}: {pair.evidence}")
    if len(pairs) > _MOST_ALIKE:
        remarks.append(f"and {len(pairs) - _MOST_ALIKE} more tags go along with it")
    return remarks
