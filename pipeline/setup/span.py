"""Span: the range a tag's values were seen in, widened to a round draft of the instrument's own."""

from math import ceil, floor, log10

from pipeline.setup.guess import Guess, Signal, plain

HEADROOM = 1.5
"""A draft leaves half of what was seen as room: no export holds the worst day."""
MOST_DECIMALS = 6
"""Values with more decimals were calculated: they have no smallest step that means anything."""

_OWN_SPANS = {"ph": (0.0, 14.0), "uv_transmittance": (0.0, 100.0), "humidity": (0.0, 100.0)}

_SCALES = {
    "turbidity": (10.0, 100.0, 1000.0, 4000.0),
    "chlorine": (5.0, 10.0, 20.0),
    "dissolved_oxygen": (20.0,),
}
"""Upper ends of usual instruments, where a quiet export says little of a bad day [NTU, mg/L]: common
practice, no source."""
_LARGEST = 1e300
"""Larger numbers are no spans: the largest a computer knows stands for "no reading"."""


def span(signal: Signal, measure: str) -> tuple[Guess, Guess]:
    """Return drafts of ``low`` and ``high`` [the export's unit].

    They are no limits: they say what the instrument can show. What was seen is widened, or replaced by
    the scale that belongs to the measure itself, where everything seen lies within it.
    """
    numbers = signal.numbers
    if numbers.is_empty():
        return Guess(""), Guess("")
    least, most = float(numbers.min()), float(numbers.max())  # type: ignore[arg-type]
    seen = f"seen {plain(least)} to {plain(most)}"
    own = _OWN_SPANS.get(measure)
    if own and own[0] <= least and most <= own[1]:
        return Guess(plain(own[0]), seen), Guess(plain(own[1]), seen)
    low = 0.0 if least >= 0 else -_round_up(-least * HEADROOM)
    high = _round_up(min(most, _LARGEST) * HEADROOM) if most > 0 else 0.0
    high = next((end for end in _SCALES.get(measure, ()) if end >= high), high)
    if low >= high:
        high = low + 1.0
    return Guess(plain(low), seen), Guess(plain(high), seen)


def _round_up(number: float) -> float:
    """Return the next of 1, 2, 5, 10, 20, 50 … that is not below `number` (> 0)."""
    if number > _LARGEST:
        return number
    power = 10.0 ** floor(log10(number))
    return next(round(step * power, 12) for step in (1, 2, 5, 10) if step * power >= number * (1 - 1e-12))


def resolution(signal: Signal) -> Guess:
    """Return the smallest step of the values: from the decimals written, and whether all are used."""
    decimals = _decimals(signal)
    if decimals is None:
        return Guess("", "no smallest step: its values carry many decimals")
    step = 10.0**-decimals
    counts = (signal.numbers / step).round().cast(int).unique()
    for times in (100, 50, 25, 20, 10, 5, 2):
        # A coarser step needs values enough to have shown the steps between.
        if len(counts) >= 10 and (counts % times == 0).all():
            step *= times
            break
    return Guess(
        plain(round(step, MOST_DECIMALS)), f"smallest step written {plain(round(step, MOST_DECIMALS))}"
    )


def _decimals(signal: Signal) -> int | None:
    """Return how many decimals the values carry, trailing zeros aside; None where they mean nothing."""
    texts = signal.readings.filter(signal.readings["number"].is_not_null())["text"].unique()
    if texts.is_empty() or texts.str.contains("(?i)e").any():
        return None
    tails = texts.str.splitn(signal.mark, 2).struct[1].fill_null("").str.strip_chars_end("0")
    longest = ceil(float(tails.str.len_chars().quantile(0.99) or 0))
    return longest if longest <= MOST_DECIMALS else None
