"""Sections: one file is one section of the weekly page, found by walking this folder.

A section has

- ``TITLE``: its heading, in plain words,
- ``ORDER``: its place on the page, smallest first; no two alike,
- ``render(week: Week) -> Markup``: what stands below the heading; a sentence when there is nothing.

Its anchor on the page is the name of its file. A section reads the `Week` alone, and never another section.
"""
