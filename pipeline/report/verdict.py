"""Verdict: the week in one sentence, one state word and the counts behind them."""

from dataclasses import dataclass

from pipeline.report.silences import silences
from pipeline.report.words import plural
from pipeline.week import Week

Counts = dict[str, int]


@dataclass(frozen=True)
class Verdict:
    """What stands at the top of the page.

    Parameters
    ----------
    word : str
        The state in a word or three.
    tone : {"outside", "unknown", "near", "within"}
        Which of the four signs goes with it.
    sentence : str
        The whole week in one sentence.
    counts : dict of str to int
        ``limits, outside, near, within, not_assessable, excursions, entries, first, act, watch, note,
        settled, came_back, silences``; `settled` are those that asked for somebody and do no longer,
        `came_back` those of them that did so by themselves.
    """

    word: str
    tone: str
    sentence: str
    counts: Counts


def judge(week: Week) -> Verdict:
    """Return the verdict of the week."""
    counts = _counts(week)
    word, tone = _state(counts, has_data(week))
    return Verdict(word, tone, _sentence(counts, has_data(week)), counts)


def has_data(week: Week) -> bool:
    """Whether anything at all was recorded in the period."""
    return int(week.coverage["present"].sum() or 0) > 0


def _counts(week: Week) -> Counts:
    status = [result.status for result in week.limits]
    asking = [finding.severity for finding in week.findings if finding.finding_id in week.asking]
    notes = sum(finding.severity == "note" for finding in week.findings)
    return {
        "limits": len(status),
        "outside": status.count("outside"),
        "near": status.count("near"),
        "within": status.count("within"),
        "not_assessable": status.count("not assessable"),
        "excursions": sum(not episode.allowance for episode in week.excursions),
        "entries": len(week.entries),
        "first": sum(entry.finding.severity == "act" for entry in week.entries),
        "act": asking.count("act"),
        "watch": asking.count("watch"),
        "note": notes,
        "settled": len(week.findings) - len(asking) - notes,
        "came_back": len(week.came_back),
        "silences": len(silences(week)),
    }


def _state(counts: Counts, data: bool) -> tuple[str, str]:
    if not data:
        return "No data", "unknown"
    if counts["outside"]:
        return "For review", "outside"
    if counts["not_assessable"]:
        return "Not all assessable", "unknown"
    if counts["first"]:
        return "Instruments to check", "near"
    if counts["near"]:
        return "Close to a limit", "near"
    return ("Quiet, with gaps" if counts["silences"] else "Quiet week"), "within"


def _sentence(counts: Counts, data: bool) -> str:
    if not data:
        total = plural(counts["limits"], "limit")
        return f"Nothing was recorded in this period, so none of {total} could be assessed."
    told = (_limits_part, _near_part, _unknown_part, _instruments_part, _silences_part)
    text = "; ".join(part for part in (tell(counts) for tell in told) if part)
    return text[:1].upper() + text[1:] + "."


def _limits_part(counts: Counts) -> str:
    total, outside = counts["limits"], counts["outside"]
    if not total:
        return "no limits are set up"
    if outside:
        return f"outside {outside} of {plural(total, 'limit')}, for review"
    if counts["not_assessable"] == total:
        return f"none of {plural(total, 'limit')} could be assessed"
    known = total - counts["not_assessable"]
    every = f"all {total} limits" if known == total and total > 1 else plural(known, "limit")
    return f"inside {every}, in what could be assessed"


def _near_part(counts: Counts) -> str:
    near = counts["near"]
    return f"near {near} {'more' if counts['outside'] else 'of them'}" if near else ""


def _unknown_part(counts: Counts) -> str:
    unknown = counts["not_assessable"]
    return f"{unknown} could not be assessed" if 0 < unknown < counts["limits"] else ""


def _instruments_part(counts: Counts) -> str:
    entries, first = counts["entries"], counts["first"]
    if not entries:
        return f"no instrument in doubt{' any more' if counts['came_back'] else ''}"
    text = f"{plural(entries, 'instrument')} to check"
    if first == entries:
        return f"{text} first"
    return (
        f"{text}, {first} of them first"
        if first
        else f"{text} when {'its' if entries == 1 else 'their'} turn comes"
    )


def _silences_part(counts: Counts) -> str:
    found = counts["silences"]
    return plural(found, "stretch", "stretches") + " without data" if found else "no long gap in the data"
