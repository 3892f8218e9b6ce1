from dataclasses import dataclass

from django.http import HttpRequest

from decor.studio.models import Role, Studio

TABS = [
    ("today", "Today", "jobs:today", frozenset(Role.values)),
    ("events", "Events", "jobs:events", frozenset({Role.OWNER, Role.PLANNER})),
    ("ask", "Ask", "jobs:ask", frozenset({Role.OWNER, Role.PLANNER})),
    ("stock", "Stock", "inventory:stock", frozenset({Role.OWNER, Role.PLANNER})),
    ("more", "More", "studio:more", frozenset(Role.values)),
]


@dataclass(frozen=True)
class StudioFace:
    """The studio as the crew may know it: its row also holds wages, margin and tax."""

    name: str
    phone: str
    email: str
    address: str
    time_zone: str
    units: str


def studio_for(studio: Studio | None, role: str | None) -> Studio | StudioFace | None:
    if studio is None or role != Role.CREW:
        return studio
    return StudioFace(studio.name, studio.phone, studio.email, studio.address, studio.time_zone, studio.units)


def desk(request: HttpRequest) -> dict[str, object]:
    """What the frame of every page needs: the studio and the tabs that this person may open."""
    user = getattr(request, "user", None)
    role = getattr(user, "role", None)
    session = getattr(request, "session", None)
    return {
        # Said once, on the page after the act, and gone with the next one.
        "outcome": session.pop("outcome", None) if session and "outcome" in session else None,
        "outcome_warns": session.pop("outcome_warns", False) if session and "outcome_warns" in session else False,
        "studio": studio_for(getattr(request, "studio", None), role),
        "tabs": [(key, label, name) for key, label, name, roles in TABS if role in roles],
        "theme": getattr(user, "theme", ""),
    }
