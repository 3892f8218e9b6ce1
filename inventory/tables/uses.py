"""Who else points at items, without a key that a database would guard. The store knows nothing of designs, so whoever
does says by its path what answers."""

from collections.abc import Callable

from django.utils.module_loading import import_string

Check = Callable[[list[int]], set[int]]
_paths: list[str] = []


def ask(path: str) -> None:
    """`path` leads to a function that gives those of the items that it uses."""
    if path not in _paths:
        _paths.append(path)


def used_elsewhere(ids: list[int]) -> set[int]:
    found: set[int] = set()
    for path in _paths:
        check: Check = import_string(path)
        found |= check(ids)
    return found
