from django.http import HttpRequest

from decor.studio.models import Role

TABS = [
    ("today", "Today", "jobs:today", frozenset(Role.values)),
    ("events", "Events", "jobs:events", frozenset({Role.OWNER, Role.PLANNER})),
    ("ask", "Ask", "jobs:ask", frozenset({Role.OWNER, Role.PLANNER})),
    ("stock", "Stock", "inventory:stock", frozenset({Role.OWNER, Role.PLANNER})),
    ("more", "More", "studio:more", frozenset(Role.values)),
]


def desk(request: HttpRequest) -> dict[str, object]:
    """What the frame of every page needs: the studio and the tabs that this person may open."""
    user = getattr(request, "user", None)
    role = getattr(user, "role", None)
    session = getattr(request, "session", None)
    return {
        # Said once, on the page after the act, and gone with the next one.
        "outcome": session.pop("outcome", None) if session and "outcome" in session else None,
        "studio": getattr(request, "studio", None),
        "tabs": [(key, label, name) for key, label, name, roles in TABS if role in roles],
        "theme": getattr(user, "theme", ""),
    }
