"""Render: fills a template of this package; everything that is not our own markup is escaped."""

from collections.abc import Callable
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from pipeline.report.words import anchor, duration, exact, percent, plural, sentence
from pipeline.wording import unit_word

_FILTERS: dict[str, Callable[..., str]] = {
    "anchor": anchor,
    "duration": duration,
    "exact": exact,
    "percent": percent,
    "plural": plural,
    "sentence": sentence,
    "unit": unit_word,
}


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("pipeline.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(_FILTERS)
    return environment


def fill(template: str, **values: Any) -> Markup:
    """Return the template of that name, filled."""
    return Markup(_environment().get_template(template).render(**values))


def text_of(template: str) -> Markup:
    """Return a style sheet or script of this package as it stands."""
    environment = _environment()
    assert environment.loader is not None
    return Markup(environment.loader.get_source(environment, template)[0])
