"""Account: an upset in one paragraph, with times and numbers; order is told, causes are not."""

from datetime import datetime, timedelta

import polars as pl

from pipeline.result import Excursion
from pipeline.upsets.grid import SLOT
from pipeline.upsets.group import Upset
from pipeline.upsets.inquiry import Inquiry
from pipeline.upsets.movers import Mover
from pipeline.upsets.switches import Switch
from pipeline.upsets.usual import MOST_SD
from pipeline.wording import moment, number, span

MOST_NAMED = 4
MOST_SWITCHES = 3
LEAD = timedelta(hours=2)
"""A switch so long before the first move may have to do with it."""


def account(inquiry: Inquiry) -> list[str]:
    """Return the sentences of the paragraph."""
    told = [
        *_beginning(inquiry),
        *_followers(inquiry),
        *_limits(inquiry),
        *_unjudged(inquiry),
        _end(inquiry),
        *_instrument(inquiry),
    ]
    return [sentence for sentence in told if sentence]


def brief(inquiry: Inquiry) -> list[str]:
    """Return how it began, what was exceeded and whether to trust it: the sentences for a page of many."""
    limits = _limits(inquiry) if inquiry.upset and inquiry.upset.excursions else []
    return [*_beginning(inquiry), *limits, *_instrument(inquiry)]


def summary(inquiry: Inquiry) -> str:
    """Return the upset in one line: what began, what was exceeded."""
    upset = inquiry.upset
    names = ", ".join(first_names(inquiry)) or "nothing that can be named"
    text = f"began with {names}"
    if inquiry.order.together:
        text = f"began in many places at once: {names}"
    if upset and upset.excursions:
        limits = dict.fromkeys(one.limit.name for one in upset.excursions)
        text += f"; possible exceedance, for review: {', '.join(limits)}"
    if inquiry.doubt and inquiry.doubt.verdict == "instrument":
        text += "; instrument, not water, as far as the record can tell"
    return text


def first_names(inquiry: Inquiry) -> list[str]:
    """Return what stands at the beginning: switches out of the ordinary, then the tags that may be first."""
    switched = [one.tag for one in beginning_switches(inquiry)]
    return list(dict.fromkeys([*switched, *inquiry.order.first]))[: MOST_NAMED + len(switched)]


def beginning_switches(inquiry: Inquiry) -> list[Switch]:
    """Return the switches out of the ordinary just before or with the first move; alone, those there are."""
    rare = [one for one in inquiry.switches if one.is_rare]
    ahead = _ahead(inquiry)
    if ahead:
        low, high = min(mover.low for mover in ahead) - LEAD, min(mover.high for mover in ahead)
        return [one for one in rare if low <= one.time <= high]
    upset = inquiry.upset
    return [one for one in rare if upset and upset.start <= one.time <= upset.start + LEAD]


def _later_switches(inquiry: Inquiry) -> list[Switch]:
    """Return the switches out of the ordinary that came after, while it lasted."""
    upset, early = inquiry.upset, beginning_switches(inquiry)
    if upset is None or not inquiry.order.first:
        return []
    return [one for one in inquiry.switches if one.is_rare and one not in early and _during(one, upset)]


def _during(one: Switch, upset: Upset) -> bool:
    return upset.start <= one.time <= upset.end


def _ahead(inquiry: Inquiry) -> list[Mover]:
    """Return the movers that may be first, the likeliest first."""
    first = inquiry.order.first
    found = [mover for mover in inquiry.order.movers if mover.tag in first]
    return sorted(found, key=lambda one: first.index(one.tag))


def named(inquiry: Inquiry, tag: str) -> str:
    """Return a tag as people know it: ``Raw water turbidity (AIT-101)``."""
    about = inquiry.cases[tag].tag.description if tag in inquiry.cases else ""
    return f"{about} ({tag})" if about else tag


def switch_words(inquiry: Inquiry, one: Switch) -> str:
    """Return a switch in words, with its time."""
    word = ", from" if one.overdue_minutes else " at"
    return f"{switched(inquiry, one)}{word} {moment(one.time, inquiry.zone)}"


def switched(inquiry: Inquiry, one: Switch) -> str:
    """Return a switch in words, beside its time."""
    who = named(inquiry, one.tag)
    if one.overdue_minutes:
        late = span(timedelta(minutes=one.overdue_minutes))
        return f"{who} stayed on '{one.after}' {late} longer than ever in the eight weeks before"
    return f"{who} went from {one.before} to {one.after}"


def between(inquiry: Inquiry, mover: Mover) -> str:
    """Return the 90 % interval of a beginning in words."""
    low, high = moment(mover.low, inquiry.zone), moment(mover.high, inquiry.zone)
    same_day = low.rpartition(" ")[0] == high.rpartition(" ")[0]
    return f"{low} and {high.rpartition(' ')[2] if same_day else high}"


def _beginning(inquiry: Inquiry) -> list[str]:
    switched = beginning_switches(inquiry)[:MOST_SWITCHES]
    told = [f"{switch_words(inquiry, one)}; that is out of the ordinary." for one in switched]
    ahead = _ahead(inquiry)
    if not ahead:
        return told
    if inquiry.order.together:
        return [*told, *_together(inquiry, ahead)]
    likeliest = ahead[0]
    if len(ahead) == 1:
        when, peak = between(inquiry, likeliest), _peak(inquiry, likeliest)
        first = f"{named(inquiry, likeliest.tag)} left its usual course first, between {when}{peak}."
        return [*told, first]
    odds = [f"{named(inquiry, one.tag)} {round(100 * one.chance_first)} %" for one in ahead[:MOST_NAMED]]
    since = moment(min(mover.low for mover in ahead), inquiry.zone)
    unsure = f"Which tag moved first cannot be told for certain: {', '.join(odds)}, from {since} on."
    peak = _peak(inquiry, likeliest).removeprefix(", and ")
    return [*told, unsure, *([f"{named(inquiry, likeliest.tag)} {peak}."] if peak else [])]


def _together(inquiry: Inquiry, ahead: list[Mover]) -> list[str]:
    names = ", ".join(named(inquiry, one.tag) for one in ahead[:MOST_NAMED])
    more = f" and {len(ahead) - MOST_NAMED} more" if len(ahead) > MOST_NAMED else ""
    when = between(inquiry, ahead[0])
    return [
        f"{len(ahead)} tags left their usual course together, between {when}: {names}{more}.",
        "No order can be told among them; look for what they share: power, communication, a valve.",
    ]


def _peak(inquiry: Inquiry, mover: Mover) -> str:
    """Return how far it went, with what is usual."""
    case, shown = inquiry.cases[mover.tag], furthest(inquiry, mover)
    usual = usual_at(inquiry, mover.tag, shown[0]) if shown else None
    if shown is None or usual is None:
        return ""
    if usual == 0 or number(case.tag, shown[1]) == number(case.tag, usual):
        return ""
    when = moment(shown[0], inquiry.zone)
    return f", and stood at {number(case.tag, shown[1])} on {when}, where {number(case.tag, usual)} is usual"


def furthest(inquiry: Inquiry, mover: Mover) -> tuple[datetime, float] | None:
    """Return the reading that stands furthest out on the mover's side, and when.

    It is one of its peak's quarter hour; where the peak is beyond what a departure is kept to, any quarter
    hour from there to the end may hold it.
    """
    if (worst := worst_uncertain(inquiry, mover)) is not None:
        return worst
    case = inquiry.cases[mover.tag]
    end = mover.peak_at + SLOT
    if is_beyond(mover):
        end = max(end, inquiry.upset.end if inquiry.upset else inquiry.end)
    rows = case.readings.filter(pl.col("usable") & pl.col("time").is_between(mover.peak_at, end, "left"))
    if rows.height == 0:
        value = value_at(inquiry, mover.tag, mover.peak_at)
        return None if value is None else (mover.peak_at, value)
    beyond = pl.col("value")
    course = inquiry.usual.get(mover.tag)
    if course is not None and course.height:
        expected = course.select("time", "expected").sort("time")
        rows = rows.select("time", "value").sort("time").join_asof(expected, on="time")
        beyond = beyond - pl.col("expected").fill_null(strategy="backward").fill_null(0.0)
    rows = rows.sort(beyond if mover.size > 0 else -beyond, maintain_order=True)
    return rows["time"][-1], float(rows["value"][-1])


def worst_uncertain(inquiry: Inquiry, mover: Mover) -> tuple[datetime, float] | None:
    """Return when and how far its excursions went, where a reading of uncertain quality tells it.

    No departure knows of such a reading: its size in sds is that of others.
    """
    marked = inquiry.cases[mover.tag].uncertain
    every = inquiry.upset.excursions if inquiry.upset else []
    own = ((one.worst_at, one.worst) for one in every if one.limit.tag == mover.tag)
    return next((worst for worst in own if (marked == worst[0]).any()), None)


def is_beyond(mover: Mover) -> bool:
    """Whether it went further than a departure is kept to; tenths of an sd are."""
    return abs(mover.size) > MOST_SD - 0.05


def value_at(inquiry: Inquiry, tag: str, at: datetime) -> float | None:
    """Return the good reading of a tag nearest to `at`, within its hold."""
    case = inquiry.cases[tag]
    rows = case.readings.filter(pl.col("good") & (pl.col("time") >= at) & (pl.col("time") < at + case.hold))
    return float(rows["value"][0]) if rows.height else None


def usual_at(inquiry: Inquiry, tag: str, at: datetime) -> float | None:
    """Return what a tag usually reads at `at`."""
    course = inquiry.usual.get(tag)
    if course is None:
        return None
    rows = course.filter(pl.col("time") <= at)
    return rows["expected"][-1] if rows.height else None


def _followers(inquiry: Inquiry) -> list[str]:
    after = [one for one in inquiry.order.movers if one.tag not in inquiry.order.first and one.crossed]
    found = []
    if after and inquiry.order.first:
        start = min(mover.onset for mover in _ahead(inquiry))
        told = [
            f"{named(inquiry, one.tag)} after {span(max(one.onset - start, timedelta()))}"
            for one in after[:MOST_NAMED]
        ]
        more = f", and {len(after) - MOST_NAMED} more" if len(after) > MOST_NAMED else ""
        found.append(f"Then came {', '.join(told)}{more}.")
    switched = [switch_words(inquiry, one) for one in _later_switches(inquiry)[:MOST_SWITCHES]]
    if switched:
        found.append(f"Out of the ordinary meanwhile: {'; '.join(switched)}.")
    return found


def _limits(inquiry: Inquiry) -> list[str]:
    found = inquiry.upset.excursions if inquiry.upset else []
    if not found:
        return ["No limit with a beginning of its own was exceeded."] if inquiry.upset else []
    told = "; ".join(_excursion(inquiry, one) for one in found[:MOST_NAMED])
    more = f"; and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
    return [f"Possible exceedance, for review: {told}{more}."]


def _excursion(inquiry: Inquiry, one: Excursion) -> str:
    length, start = span(timedelta(minutes=one.minutes)), moment(one.start, inquiry.zone)
    case = inquiry.cases.get(one.limit.tag)
    own = case is not None and one.unit in ("", case.tag.unit)
    value = number(case.tag, one.worst) if case and own else f"{one.worst:g} {one.unit}"
    worst = f"{value} on {moment(one.worst_at, inquiry.zone)}"
    return f"{one.limit.name} outside for {length} from {start}, furthest out at {worst}"


def _unjudged(inquiry: Inquiry) -> list[str]:
    """Name the tags that are missing here because what they depend on had stopped."""
    stretches: dict[tuple[datetime, str, str], list[str]] = {}
    for one in inquiry.unjudged:
        until = f"to {moment(one.end, inquiry.zone)}" if one.end else "on"
        stretches.setdefault((one.start, until, one.condition), []).append(named(inquiry, one.tag))
    told = [
        f"{', '.join(names)} from {moment(start, inquiry.zone)} {until}, for {condition} did not hold"
        for (start, until, condition), names in list(stretches.items())[:MOST_NAMED]
    ]
    more = f"; and {len(stretches) - MOST_NAMED} more" if len(stretches) > MOST_NAMED else ""
    return [f"Not judged meanwhile: {'; '.join(told)}{more}."] if told else []


def _end(inquiry: Inquiry) -> str:
    upset = inquiry.upset
    if upset is None:
        return ""
    lasting = list(dict.fromkeys(event.tag for event in upset.events if event.lasting))
    if lasting:
        names = ", ".join(named(inquiry, tag) for tag in lasting[:MOST_NAMED])
        return f"{names} had not come back two days later."
    if upset.end >= inquiry.end:
        return "It was still going on when the record ends."
    return (
        f"All was back by {moment(upset.end, inquiry.zone)}, {span(upset.end - upset.start)} after it began."
    )


def _instrument(inquiry: Inquiry) -> list[str]:
    told = inquiry.doubt
    if told is None:
        return []
    why = "; ".join(told.reasons)
    if told.verdict == "instrument":
        caution = "" if told.is_by_grab else " Only a grab tells: until one does, take it for the water."
        return [f"Instrument, not water, as far as the record can tell: {why}.{caution}"]
    if told.verdict == "not told":
        return [f"Whether it was the water or the instrument cannot be told: {why}."]
    doubts = "; ".join(told.reasons[1:])
    return [f"It was the water or the plant, not one instrument alone; but {doubts}."] if doubts else []
