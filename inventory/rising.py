"""Who is told that stock rose: a delivery, a lot, a count upward, an order that is expected, a promise that shrank or
was given up. The store knows nobody's events: whoever waits for its things says so through `ask`."""

from collections.abc import Callable, Iterable

from django.db import transaction
from django.utils.module_loading import import_string

_TOLD: list[str] = []
Tell = Callable[[set[int]], None]


def ask(tell: str) -> None:
    """The dotted path of a function `(item ids)`, called inside the transaction in which there came to be more of
    them: what it writes is there with them or not at all."""
    if tell not in _TOLD:
        _TOLD.append(tell)


@transaction.atomic
def stock_rose(*, item_ids: Iterable[int]) -> None:
    """Said once too often does no harm: whoever waits looks for itself."""
    ids = set(item_ids)
    for path in _TOLD if ids else ():
        tell: Tell = import_string(path)
        tell(ids)
