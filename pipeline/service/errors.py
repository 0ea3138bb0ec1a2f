"""Errors found at a service, fouling and calibration drift kept apart.

The form is that of records of continuous water-quality monitors (Wagner, Boulger, Oblinger and Smith,
2006, USGS Techniques and Methods 1-D3; formulas from memory: check). Both are corrections, to be added
to the reading: an instrument that reads too high has negative ones.
"""


def fouling(before: float, after: float, field_start: float = 0.0, field_end: float = 0.0) -> float:
    """Return the fouling correction ``(after - before) - (field_end - field_start)`` [unit].

    Parameters
    ----------
    before, after : float [unit]
        Reading in the water before and after cleaning.
    field_start, field_end : float [unit]
        A second meter beside it before and after: by how much the water itself changed meanwhile.
        Without one the water is taken as steady.
    """
    return (after - before) - (field_end - field_start)


def calibration_drift(standard: float, reading: float) -> float:
    """Return the calibration-drift correction ``standard - reading`` [unit].

    Parameters
    ----------
    standard : float [unit]
        Value of the buffer, standard or grab.
    reading : float [unit]
        What the clean instrument shows of it, before anything is adjusted.
    """
    return standard - reading


def percent(correction: float, reading: float) -> float:
    """Return a correction in % of the reading it belongs to: before cleaning, or of the standard."""
    return 100.0 * correction / reading
