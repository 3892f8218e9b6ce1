"""The kinds of piece. A kind is one module of this folder and is found by itself; it gives

KEY, NAME, PLURAL      "panel", "Picture panel", "Picture panels"
SETTLE, ROUGHLY        what its page's button says while only rough measures are known, and what it then shows
RoughForm              what a booking asks; `rough_json(cleaned)` is what is kept of it, `rough_words(measures)` says it
Form                   what the piece's own page asks: Form(data, files, piece=, catalogue=, now=); when valid, its
                       `measured()` gives the measures to keep, with the chart where the kind has one
calc_measures(measures, *, catalogue, count, built_at, panel=None)
                       the arithmetic's measures, from the rough form's answers or from the full ones
drawing(piece, catalogue)    the piece as SVG
words(piece, catalogue)      its size in a line
facts(piece, catalogue)      rows of its page: (what, how it stands, small print)
counts(piece, catalogue)     [(balloon or None, how many)] of one such piece
"""

import importlib
import pkgutil
from functools import cache
from types import ModuleType

from django.http import Http404


@cache
def all_kinds() -> dict[str, ModuleType]:
    """Every kind by its key, the ones with the lowest RANK first."""
    names = sorted(found.name for found in pkgutil.iter_modules(__path__))
    modules = [importlib.import_module(f"{__name__}.{name}") for name in names]
    modules.sort(key=lambda module: getattr(module, "RANK", 100))
    return {module.KEY: module for module in modules}


def kind_of(key: str) -> ModuleType:
    """The kind with this key; an address with another one leads nowhere."""
    try:
        return all_kinds()[key]
    except KeyError:
        raise Http404(f"no kind of piece is called {key}") from None
