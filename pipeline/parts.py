"""Parts: every module of an open folder, found by walking it, in name order."""

from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from types import ModuleType


@cache
def parts(folder: ModuleType) -> dict[str, ModuleType]:
    """Return the modules of an open folder by file name.

    Parameters
    ----------
    folder : module
        A package whose every file is one part (``pipeline.checks``).

    Returns
    -------
    dict of str to module
        Sorted by name, so that every run walks them in the same order.
    """
    names = sorted(found.name for found in iter_modules(folder.__path__) if not found.ispkg)
    return {name: import_module(f"{folder.__name__}.{name}") for name in names}
