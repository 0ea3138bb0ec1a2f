"""Clock: which time zone an export's stamps keep, from their offsets and from the nights of the time change.

A recorder on summer time shows no stamp in the hour that clocks skip in spring, and shows an hour twice
in autumn. One on standard time all year runs straight through both nights. Either is evidence, of the
rule or of there being none; which zone it is no export says, so the draft is a marked guess.
"""

import re

import polars as pl

from pipeline.ingest.nights import RULES, Night, changes_on, nights_of, standard_offset, told
from pipeline.ingest.zones import ZONES
from pipeline.setup.guess import SAY_WHICH, Guess

_OFFSET = re.compile(r"(?:Z|[+-]\d\d:?(?:\d\d)?)$")


def clock(texts: pl.Series, walls: pl.Series, header: str, given: str | None) -> Guess:
    """Draft the plant's ``time_zone``.

    Parameters
    ----------
    texts : Series of str
        Times as written.
    walls : Series of Datetime
        The same as shown on the recorder's clock, in file order, one a line, null where not understood.
    header : str
        What the time column is called.
    given : str or None
        The zone the user named; it stands, and what speaks against it is said.
    """
    offsets = sorted(
        {found[0] for text in texts.unique().drop_nulls() if (found := _OFFSET.search(text[10:]))}
    )
    nights = [] if offsets else list(nights_of(walls))
    if given:
        return Guess(given, _against(given, nights))
    if offsets:
        return _of_offsets(offsets)
    if re.search(r"(?<![a-z])(utc|gmt)(?![a-z])", header.lower()):
        return Guess("UTC", f"the time column is called '{header}'")
    return _of_nights(nights)


def season(letters: str, walls: pl.Series, plant: str) -> Guess:
    """Draft ``[reading] time_zone`` where a header names standard time: its clock may yet follow summer time.

    Parameters
    ----------
    letters : str
        What the header calls the zone, in lower case.
    walls : Series of Datetime
        As in `clock`.
    plant : str
        The plant's ``time_zone`` as drafted.
    """
    says = f"the header says {letters.upper() if letters in ZONES else letters.title()}"
    if not (letters.endswith("st") and letters in ZONES) and "standard time" not in letters:
        return Guess("")
    nights = list(nights_of(walls))
    if changed := [night for night in nights if night.changed]:
        return Guess(plant, f"{says}, but {told(changed[0])}: the wall clock")
    if letters in ZONES:
        return Guess("", f"{says}, standard time all year; if it is the wall clock, write its zone")
    return Guess("", f"{says}, standard time all year or the wall clock{SAY_WHICH}")


def _of_offsets(offsets: list[str]) -> Guess:
    hours = sorted({0 if text == "Z" else int(text[:3]) for text in offsets})
    if len(hours) == 1 and hours[0] == 0:
        return Guess("UTC", "stamps are UTC; days and weeks begin at the plant's midnight: give --time-zone")
    if len(hours) == 1:
        return Guess(
            f"{hours[0]:+03d}:00", f"every stamp has the offset {offsets[0]}; give --time-zone if it changes"
        )
    for rule in RULES:
        if hours[0] in rule.zones and hours[-1] - hours[0] == 1:
            return Guess(rule.zones[hours[0]], f"stamps have the offsets {' and '.join(offsets)}")
    return Guess("UTC", f"stamps have the offsets {', '.join(offsets)}: give --time-zone")


def _of_nights(nights: list[Night]) -> Guess:
    changed = [night for night in nights if night.changed]
    if changed:
        zone = next(iter(changed[0].rule.zones.values()))
        return Guess(zone, f"{told(changed[0])}: the {changed[0].rule.name} rule; which zone no export says")
    if nights:
        return Guess(
            "UTC",
            f"{told(nights[0])}: standard time all year, or UTC; give its offset, such as --time-zone=-07:00",
        )
    return Guess("UTC", "nothing in the export tells the zone: give --time-zone")


def _against(given: str, nights: list[Night]) -> str:
    from pipeline.clock import zone_of

    zone = zone_of(given)
    for night in nights:
        if changes_on(zone, night.day) and not night.changed:
            return (
                f"as given; but {told(night)}: a recorder on standard time all year needs its offset "
                f"({standard_offset(zone, night.day)}) as time_zone in [reading], or readings will be refused"
            )
        if night.changed and not changes_on(zone, night.day):
            return f"as given; but {told(night)}: the recorder follows summer time"
    return "as given"
