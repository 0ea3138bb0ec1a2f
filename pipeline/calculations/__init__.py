"""Calculations: one file a quantity that is worked out of others.

A calculation is a module with::

    INPUTS: dict[str, str]          # name of each input and its unit
    UNIT: str
    def calculate(**inputs) -> array

Inputs are numbers or arrays of one shape; the result has that shape, NaN where it cannot be had. A file is
found by its name; what two of them share is in a closed room such as `pipeline.disinfection`.
"""
