"""Where a promise can be looked at: on the page of its event, else on one of its own. The store knows nobody's
events: whoever does says where they are."""

from collections.abc import Callable, Iterable

from django.urls import reverse
from django.utils.module_loading import import_string

_FOUND_BY: list[str] = []
Find = Callable[[Iterable[int]], dict[int, str]]


def ask(find: str) -> None:
    """The dotted path of a function: `(reservation ids) -> {reservation id: address}`."""
    if find not in _FOUND_BY:
        _FOUND_BY.append(find)


def pages_of(reservation_ids: Iterable[int]) -> dict[int, str]:
    ids = set(reservation_ids)
    return {pk: reverse("inventory:promise", args=[pk]) for pk in ids} | events_of(ids)


def events_of(reservation_ids: Iterable[int]) -> dict[int, str]:
    """Only of those that somebody knows an event of."""
    ids = set(reservation_ids)
    found: dict[int, str] = {}
    for path in _FOUND_BY if ids else ():
        find: Find = import_string(path)
        found |= find(ids)
    return found
