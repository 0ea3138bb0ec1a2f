"""Ids: an upset has one id, from wherever the record is looked at."""

from dataclasses import replace
from datetime import timedelta

import numpy as np

from pipeline.clock import week_named
from pipeline.investigate import happened
from pipeline.shapes import Shapes
from tests.upsets.scenes import WEEK, at, staged

LEARN = timedelta(days=80)
MOVED = ("PIT-301", "LIT-301", "LIT-302")


def _two_moves(shapes: Shapes) -> Shapes:
    """Return a record at rest, but for eight sds for five hours of an evening and seven sds in its night.

    The evening is what each tag has done before: from midnight on seven sds are no longer beyond its bar.
    """
    tenths = np.zeros_like(shapes.tenths)
    for start, hours, size in (("2026-11-04T15:00", 5, 80), ("2026-11-05T02:00", 3, 70)):
        first = shapes.grid.at(at(start))
        for tag in MOVED:
            tenths[shapes.tags.index(tag), first : first + 4 * hours] = size
    return replace(shapes, tenths=tenths)


def test_the_hour_from_which_the_record_is_read_changes_no_upset() -> None:
    """The weekly report reads from a midnight on, `upset show` from the hour of the upset itself."""
    scene = staged()
    shapes = _two_moves(scene.shapes)
    period = week_named(WEEK, scene.plant.zone)
    found = set()
    for hours in (0, 3, 9, 15, 22):
        start = period.start - LEARN + timedelta(hours=hours)
        part = replace(scene, shapes=shapes.between(start, period.end))
        found.add(tuple((one.start, one.end) for one in happened(part, period)))
    (upsets,) = found
    assert [start for start, _ in upsets] == [at("2026-11-04T15:00")]
