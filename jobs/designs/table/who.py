"""Who may stand at the table. The rooms above know who works an event; they say so through `ask`."""

from django.utils.module_loading import import_string

from decor.studio.models import User

_ASKED: set[str] = set()


def ask(on_event: str) -> None:
    """The dotted path of a function that tells whether a user works on an event: `(user, event id) -> bool`. Nobody
    to ask means no."""
    _ASKED.add(on_event)


def may_load(user: User, event_id: int) -> bool:
    return user.is_staff_role or any(import_string(on_event)(user, event_id) for on_event in _ASKED)
