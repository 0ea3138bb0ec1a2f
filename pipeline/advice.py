"""Advice: what a technician looks at first, by kind of finding and by what the instrument measures.

Checks of the instrument only: the maker's manual and the plant's own procedures say how.
Common practice, no source.
"""

_BY_MEASURE = {
    "ph": "a grab side by side, then sample flow and a clean probe, then two buffers",
    "chlorine": "a grab side by side, then sample flow, membrane and reagent or cell, then a clean cell",
    "turbidity": "sample flow and bubbles, then a clean cell or window, then a secondary standard",
    "temperature": "a reference thermometer beside it, then wiring",
    "dissolved_oxygen": "a clean cap or membrane, then air saturation, then a portable meter beside it",
    "flow": "empty pipe and zero, then tank draw-down or a totalizer difference over the same hours",
    "level": "a tape or gauge reading, then the sensing line or the face of the sensor",
    "pressure": "a test gauge beside it, then the sensing line",
    "conductivity": "a clean cell, then a standard solution",
    "orp": "a clean platinum tip, then a standard solution",
    "uv_intensity": "a clean sleeve and sensor window, then the reference sensor",
    "uv_transmittance": "a grab on the bench instrument, then a clean window",
    "head_loss": "zero with both legs equalised, then the sensing lines",
}
_GENERAL = "a reading by hand beside it, then wiring and sensor"
_BY_KIND = {
    "noisy": "bubbles and sample flow, then loose wiring, shield and earth, then the sensor's own age",
    "damped": "sample flow and a blocked line or cell, then a coated sensor, then the damping setting",
    "spikes": "loose or wet connections and bubbles, then what switches nearby at the same moments",
    "strayed": "sample flow and its strainer, then air or debris in the cell and the wiper, then its power",
    "pegged": "the configured span of transmitter and recorder, then wiring, then a level by hand",
    "rescaled": "unit, span and decimal of transmitter, controller and recorder, then a reading by hand",
    "coarser": "the recorder's deadband, number format and signal card, then the transmitter's own display",
    "clock_shift": "the clock of the recorder or controller, its time zone and its summer time setting",
    "frozen": "whether the signal moves: sensing line, hold mode, then signal loop and communication",
    "standstill": "the remote unit, controller or link that sends them, and its clock, before any instrument",
    "copied": "which channel and address it is read from, in the panel, the controller and the recorder",
    "gap": "communication and power of the transmitter or its panel, then the recorder",
    "out_of_range": "wiring and signal loop (open circuit, loss of power), then the configured span",
}


def check_first(kind: str, measures: str) -> str:
    """Return what to look at first for a finding of `kind` on something that `measures` this."""
    return _BY_KIND.get(kind) or _BY_MEASURE.get(measures, _GENERAL)
