"""Needs: what the week asks of the superintendent, most pressing first, one sentence each."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from pipeline.report.entries import came_back
from pipeline.report.results import doubt_words, outside_words, worst_moment
from pipeline.report.silences import Silence, refused_words, silences
from pipeline.report.verdict import has_data
from pipeline.report.words import (
    anchor,
    duration,
    exact,
    first_clause,
    joined,
    lowered,
    moment,
    percent,
    plural,
    scale_of,
    sentence,
    stretch,
    tied,
)
from pipeline.result import LimitResult
from pipeline.week import Entry, Week
from pipeline.wording import unit_word

MOST = 9
_REFUSED = "file, line and reason of each; once that is mended, stillwell ingest --again reads them."
_OWN = "The plant's own limit, for review."
_MONTH = timedelta(days=32)
_YOUNG = timedelta(days=10)
_PRESSING = {"act": 0, "watch": 1, "note": 2}


@dataclass(frozen=True)
class Need:
    """One thing to do.

    Parameters
    ----------
    tone : {"outside", "unknown", "near"}
        Which sign stands before it.
    subject, text, ask, detail : str
        What it is about; what is the matter; what to do; what more to know for that.
    link : str
        Anchor of where the page says more.
    """

    tone: str
    subject: str
    text: str
    ask: str
    link: str
    detail: str = ""


def needs(week: Week) -> list[Need]:
    """Return all of them, most pressing first."""
    if not has_data(week):
        return [_no_data(week)]
    first = [entry for entry in week.entries if entry.finding.severity == "act"]
    later = [entry for entry in week.entries if entry.finding.severity != "act"]
    # More are those that no doubt names above already.
    named = {result.doubt.tag for result in week.limits if result.doubt and _names_its_doubt(result, week)}
    later = [entry for entry in later if entry.finding.tag not in named]
    return [
        *_outside(week),
        *_doubtful(week),
        *_unknown(week),
        *(_check(entry, week) for entry in first),
        *(_silent(silence, week) for silence in silences(week)),
        *_when_convenient(later),
        *_came_back(week),
    ]


def _no_data(week: Week) -> Need:
    refused = sum(one.readings for one in week.refused)
    if refused:
        text = f"delivered nothing that could be read for this period: {plural(refused, 'reading')} refused."
        return Need("unknown", week.plant.name, text, "See why in archive/refused/:", "coverage", _REFUSED)
    text, ask = "sent no readings at all for this period.", "See whether the exports were written and read:"
    detail = "until then only the hand log and bench sheets tell how the week went."
    return Need("unknown", week.plant.name, text, ask, "coverage", detail)


def _outside(week: Week) -> Iterator[Need]:
    found = [result for result in week.limits if result.status == "outside"]
    for result in sorted(found, key=lambda r: (_PRESSING[r.limit.severity], r.limit.is_own)):
        ask = _OWN if result.limit.is_own else "Possible exceedance, for review: already reported?"
        notice = f"Who may have to be told: {result.limit.notice}." if result.limit.notice else ""
        doubt = _doubt_too(result, week) if _is_beside_a_doubt(result, week) else ""
        detail = " ".join(part for part in (notice, doubt) if part)
        yield Need("outside", result.limit.name, _outside_text(result, week), ask, _anchor(result), detail)


def _is_beside_a_doubt(result: LimitResult, week: Week) -> bool:
    own = [e for e in week.excursions if e.limit.limit_id == result.limit.limit_id and not e.allowance]
    return any(episode.instrument_doubt for episode in own)


def _names_its_doubt(result: LimitResult, week: Week) -> bool:
    """Whether its line names the instrument that is in doubt."""
    if result.status == "outside":
        return bool(result.doubt and result.doubt.looks) and _is_beside_a_doubt(result, week)
    return _may_be_outside(result)


def _may_be_outside(result: LimitResult) -> bool:
    return result.status != "outside" and result.doubt is not None and "outside" in result.doubt.statuses


def _doubt_too(result: LimitResult, week: Week) -> str:
    text = "Its instrument is in doubt too; that is no reason to wait."
    over = doubt_words(week, result) if result.doubt and result.doubt.looks else ""
    return f"{text} {sentence(over)}" if over else text


def _anchor(result: LimitResult) -> str:
    return anchor(f"limit-{result.limit.limit_id}")


def _outside_text(result: LimitResult, week: Week) -> str:
    limit, value = result.limit, result.worst if result.worst is not None else result.value
    is_high = result.high is not None and value is not None and value > result.high
    edge = result.high if is_high else result.low
    at = f" on {worst_moment(result, week.period.zone)}" if result.worst_at else ""
    if result.rule and not result.bounds and result.excursions and edge is not None:
        # Two records on end: the limit is judged by the lesser of them, and the further one was there too.
        furthest = max(result.excursions, key=lambda one: one.worst if is_high else -one.worst)
        value, at = furthest.worst, f" on {moment(furthest.worst_at, week.period.zone)}"
    side = "above" if is_high else "below"
    shown = scale_of(week.plant.tags.get(limit.tag), result.unit).beside(value, (result.low, result.high))
    allowed = tied(exact(edge), unit_word(result.unit)) if edge is not None else "its limit"
    word = "on" if result.days else "for"
    time = f" {word} {outside_words(result)}" if result.minutes_outside else ""
    if result.bounds:
        # Its number is a count or a share; what it counts is the rule.
        return f"came to {shown}, {side} {allowed}, {result.rule} ({result.note})."
    return f"was {side} {allowed}{time}; furthest out {shown}{at}."


def _doubtful(week: Week) -> Iterator[Need]:
    """Limits kept as recorded that may not have been, if the instrument is off as far as suspected."""
    for result in week.limits:
        if not _may_be_outside(result):
            continue
        text = f"is {result.status} as recorded, but {doubt_words(week, result)}."
        ask = "For review: verify the instrument against a grab or a standard."
        yield Need("unknown", result.limit.name, text, ask, _anchor(result))


def _unknown(week: Week) -> Iterator[Need]:
    unknown = [result for result in week.limits if result.status == "not assessable"]
    idle = [result for result in unknown if _was_idle(week, result)]
    found = [result for result in unknown if result not in idle and not _has_just_begun(result)]
    if idle:
        names = joined(list(dict.fromkeys(result.limit.tag for result in idle)))
        text = f"was out of service throughout, so {plural(len(idle), 'limit')} of it had nothing to judge."
        yield Need("unknown", names, text, "See that it really was.", "limits")
    yield from (_lacking(result, week) for result in found if result.lacks and not _may_still_come(result))
    found = [result for result in found if not result.lacks and not _began_before_the_record(week, result)]
    if not found:
        return
    ask, detail = "Look for another record of it:", "bench sheet, grab samples, local recorder."
    if len(found) == 1:
        note = f" ({found[0].note})" if found[0].note else ""
        text = f"could not be assessed: {percent(found[0].coverage_pct)} of the record could be judged{note}."
        yield Need("unknown", found[0].limit.name, text, ask, _anchor(found[0]), detail + _meanwhile(found))
        return
    parts = _by_tag(found)
    more = f" and {len(parts) - 6} more" if len(parts) > 6 else ""
    text = f"could not be assessed: {joined(parts[:6])}{more}."
    ask = "Look for other records of them:"
    yield Need("unknown", plural(len(found), "limit"), text, ask, "limits", detail + _meanwhile(found))


def _by_tag(found: list[LimitResult]) -> list[str]:
    """Return the names of limits, those of one tag as one."""
    tags: dict[str, list[str]] = {}
    for result in found:
        tags.setdefault(result.limit.tag, []).append(result.limit.name)
    return [
        names[0] if len(names) == 1 else f"{plural(len(names), 'limit')} of {tag}"
        for tag, names in tags.items()
    ]


def _lacking(result: LimitResult, week: Week) -> Need:
    """Tell of results too few to judge by; where they lie beyond the limit, that too."""
    beyond = ""
    if _is_beyond(result):
        scale = scale_of(week.plant.tags.get(result.limit.tag), result.unit)
        shown = scale.beside(result.value, (result.low, result.high))
        beyond = f"; what there is comes to {shown}, beyond the limit"
    text = f"could not be assessed: {result.lacks}{beyond}."
    ask, detail = "See whether a result is missing here:", "lab reports, bench sheet."
    return Need("unknown", result.limit.name, text, ask, _anchor(result), detail)


def _is_beyond(result: LimitResult) -> bool:
    low, high, value = result.low, result.high, result.value
    return value is not None and ((high is not None and value > high) or (low is not None and value < low))


def _may_still_come(result: LimitResult) -> bool:
    """Tell whether the stretch is not over, and what there is of it lies within the limit."""
    return result.so_far and not _is_beyond(result)


def _has_just_begun(result: LimitResult) -> bool:
    """Tell whether a month is so young that nobody can say anything of it yet: that asks for nothing."""
    return result.so_far and result.period_end - result.period_start < _YOUNG


def _began_before_the_record(week: Week, result: LimitResult) -> bool:
    """Tell whether a quarter or year began before its record did: it only has to pass."""
    case = week.cases.get(result.limit.tag)
    if case is None or result.period_end - result.period_start <= _MONTH:
        return False
    known = case.samples if result.limit.basis == "lab" else case.readings
    return known.height > 0 and result.period_start < known["time"][0]


def _was_idle(week: Week, result: LimitResult) -> bool:
    """Tell whether its tag was in no state to be judged, or somebody at work on it, for the whole period."""
    case, period = week.cases.get(result.limit.tag), week.period
    if case is None or result.limit.basis == "lab":
        return False
    spans = case.masked.select("start", "end").rows()
    return any(start <= period.start and end >= period.end for start, end in spans)


def _meanwhile(found: list[LimitResult]) -> str:
    """Say what the rules ask for while an instrument does not record; each once."""
    asked = dict.fromkeys(result.limit.on_failure for result in found if result.limit.on_failure)
    return "".join(f" While nothing is recorded the rule asks for {text}." for text in asked)


def _check(entry: Entry, week: Week) -> Need:
    found = entry.finding
    tag = week.plant.tags.get(found.tag)
    subject = f"{found.tag} {tag.description}" if tag and tag.description else found.tag
    text = sentence(lowered(first_clause(found.evidence)), capital=False)
    ask = "Check first:" if found.check_first else "Verify before adjusting."
    detail = sentence(found.check_first, capital=False)
    return Need("near", f"{subject}:", text, ask, anchor(f"finding-{found.finding_id}"), detail)


def _silent(silence: Silence, week: Week) -> Need:
    when = stretch(silence.start, silence.end, week.period.zone)
    if silence.refused:
        why = f"({duration(silence.minutes)}): {refused_words(silence)}."
        text = f"delivered nothing that could be read {when} {why}"
        return Need("unknown", silence.whose, text, "See why in archive/refused/:", "coverage", _REFUSED)
    what = "recorded nothing good" if silence.bad else "recorded nothing"
    text = f"{what} {when} ({duration(silence.minutes)})."
    return Need("unknown", silence.whose, text, "See whether the hand log covers it.", "coverage")


def _when_convenient(entries: list[Entry]) -> Iterator[Need]:
    if entries:
        names = joined([entry.finding.tag for entry in entries])
        text = f"on the calibration list, not yet pressing: {names}."
        yield Need(
            "near", plural(len(entries), "more instrument"), text, "Check on the next round.", "instruments"
        )


def _came_back(week: Week) -> Iterator[Need]:
    found = came_back(week)
    if found:
        text = f"came back by {'itself' if len(found) == 1 else 'themselves'}: {joined(found)}."
        detail = "no service is logged since, and what was recorded until then stays in doubt."
        subject = plural(len(found), "instrument")
        yield Need("near", subject, text, "Ask whether anyone knows why:", "instruments", detail)
