"""Facts: the tables of which a case is made, column by column."""

import polars as pl

from pipeline.table import TIME, Schema

READINGS: Schema = {
    "time": TIME,
    "value": pl.Float64(),
    "good": pl.Boolean(),  # quality good and a number
    "in_state": pl.Boolean(),  # the plant was in a state in which it means something, nobody at work on it
    "stuck": pl.Boolean(),  # part of a run of identical values that is too long to be chance
    "usable": pl.Boolean(),  # good, in state, not stuck, within the instrument's span
}
"""The record as it stands in the archive, judged in columns beside it; nothing is left out."""

DAILY: Schema = {
    "day": pl.Date(),
    "value": pl.Float64(),  # median of the usable readings less their hour-of-day habit; null when too few
    "readings": pl.UInt32(),
    "level": pl.Float64(),  # the day's plain median
}

SPANS: Schema = {"start": TIME, "end": TIME}
"""Ascending and apart: ``start <= t < end``."""

STUCK: Schema = {
    "start": TIME,
    "end": TIME,  # the last repeat plus one step, or the next different reading
    "crossed": TIME,  # when it had lasted longer than chance allows
    "readings": pl.UInt32(),
    "value": pl.Float64(),
    "allowed_minutes": pl.Float64(),
}

PAUSES: Schema = {
    "start": TIME,
    "end": TIME,
    "paused": TIME,  # when it had lasted a third of what chance allows
    "crossed": TIME,  # as in STUCK; null where it never got so long
    "readings": pl.UInt32(),
    "value": pl.Float64(),
    "allowed_minutes": pl.Float64(),
}
"""Runs of identical values that say something together with others from the same instant; STUCK included."""

STANDSTILLS: Schema = {
    "run": TIME,  # start of this tag's own run
    "start": TIME,  # of the first of the runs
    "end": TIME,  # of the last of the runs
    "crossed": TIME,  # when so many tags had stood still long enough
    "tags": pl.List(pl.String()),  # that stand still together, in the config's order
    "lead": pl.String(),  # the one that speaks for them
    "lasts": pl.Boolean(),
}
"""Runs of this tag that began when those of others began: their messages stopped, not the instruments."""

COPIES: Schema = {
    "start": TIME,
    "end": TIME,  # null while it lasts
    "crossed": TIME,
    "other": pl.String(),
    "readings": pl.UInt32(),
    "moves": pl.UInt32(),  # how often both changed to the same number
    "is_told": pl.Boolean(),  # whether its own jump at the start tells that this tag is the copy
    "always": pl.Boolean(),  # never seen to differ
}
"""Stretches in which this tag shows the numbers of another."""

TWIN_DAYS: Schema = {
    "day": pl.Date(),
    "difference": pl.Float64(),  # median of own less twin's simultaneous readings [working scale]
    "readings": pl.UInt32(),
}
"""What a tag shows less what its twin shows; only days on which both showed enough."""

PAIRS: Schema = {
    "time": TIME,
    "day": pl.Date(),
    "grab": pl.Float64(),
    "reading": pl.Float64(),  # median of the five readings nearest the grab
}

SAMPLES: Schema = {
    "time": TIME,
    "value": pl.Float64(),
    "below": pl.Boolean(),  # reported as less than `value`
}

CONTRADICTIONS: Schema = {
    "time": TIME,
    "value": pl.Float64(),
    "usual": pl.Float64(),  # what flowed while running on the days before
    "running": pl.Boolean(),  # what the state says
    "spell": pl.UInt32(),  # rows of one run of readings that all deny it
    "lasts": pl.Boolean(),  # whether that run reaches to the last reading in that state
    "when": pl.String(),  # the condition as the config writes it
}
"""Readings that deny what the pump or valve says."""

RELATION_DAYS: Schema = {
    "day": pl.Date(),
    "difference": pl.Float64(),  # shown less expected [working scale]
    "allowed": pl.Float64(),  # what the tolerances of all parties add up to [working scale]
}
