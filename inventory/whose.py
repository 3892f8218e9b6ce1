"""Who may open the pick and return lists of a reservation. The store knows nobody's shifts: the rooms above say through
`ask` who works for it."""

from collections.abc import Callable, Iterable

from django.utils.module_loading import import_string

from decor.studio.models import User
from inventory.models import Reservation

_ASKED: set[str] = set()
WorksFor = Callable[[User, set[int]], set[int]]


def ask(works_for: str) -> None:
    """The dotted path of a function `(user, reservation ids) -> those that the user works for`. Nobody to ask means
    none."""
    _ASKED.add(works_for)


def openable(user: User, reservation_ids: Iterable[int]) -> set[int]:
    ids = set(reservation_ids)
    if user.is_staff_role or not ids:
        return ids
    found: set[int] = set()
    for path in _ASKED:
        works_for: WorksFor = import_string(path)
        found |= works_for(user, ids) & ids
    return found


def may_open(user: User, reservation: Reservation) -> bool:
    return bool(openable(user, [reservation.pk]))
