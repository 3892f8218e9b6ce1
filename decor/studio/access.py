"""Who may open what. One matrix drives the middleware and the tests: an address that is missing here opens
for nobody, and the tests name it."""

from dataclasses import dataclass

from decor.studio.models import Role

OWNER, PLANNER, CREW = Role.OWNER, Role.PLANNER, Role.CREW


@dataclass(frozen=True)
class Rule:
    roles: frozenset[str]
    public: bool = False
    why: str = ""


PUBLIC = Rule(frozenset(Role.values), public=True, why="needs no account")
CLIENT_LINK = Rule(frozenset(Role.values), public=True, why="the secret link is the key")
EVERYONE = Rule(frozenset(Role.values), why="one's own things")
PLANNING = Rule(frozenset({OWNER, PLANNER}))
OWNING = Rule(frozenset({OWNER}))

MATRIX: dict[str, Rule] = {
    # the door
    "studio:login": PUBLIC,
    "studio:first-run": PUBLIC,
    "studio:livez": PUBLIC,
    "studio:readyz": PUBLIC,
    "studio:logout": EVERYONE,
    "studio:more": EVERYONE,
    "studio:theme": EVERYONE,
    "studio:password": EVERYONE,
    "studio:sign-ins": EVERYONE,
    "studio:sign-in-end": EVERYONE,
    "studio:settings": OWNING,
    "studio:rates": OWNING,
    "studio:people": OWNING,
    "studio:person-new": OWNING,
    "studio:person": OWNING,
    "studio:person-sign-out": OWNING,
    "studio:failed-jobs": OWNING,
    "studio:failed-job-retry": OWNING,
    "studio:failed-job-dismiss": OWNING,
    "studio:audit": OWNING,
    # desk
    "jobs:today": EVERYONE,
    "jobs:events": PLANNING,
    "jobs:event-glance": PLANNING,
    "jobs:event-change": PLANNING,
    "jobs:event-stage": PLANNING,
    "jobs:book": PLANNING,
    "jobs:book-who": PLANNING,
    "jobs:book-where": PLANNING,
    "jobs:book-when": PLANNING,
    "jobs:book-what": PLANNING,
    "jobs:book-piece-remove": PLANNING,
    "jobs:book-check": PLANNING,
    "jobs:book-drop": PLANNING,
    "jobs:clients": PLANNING,
    "jobs:client": PLANNING,
    "jobs:client-new": PLANNING,
    "jobs:client-change": PLANNING,
    "jobs:venues": PLANNING,
    "jobs:venue": PLANNING,
    "jobs:venue-new": PLANNING,
    "jobs:venue-change": PLANNING,
    # pieces and their charts
    "jobs:piece-add": PLANNING,
    "jobs:piece": PLANNING,
    "jobs:piece-edit": PLANNING,
    "jobs:piece-measures": PLANNING,
    "jobs:piece-colours": PLANNING,
    "jobs:piece-remove": PLANNING,
    "jobs:chart": PLANNING,
    "jobs:chart-paint": PLANNING,
    # build books
    "jobs:build-book": PLANNING,
    "jobs:build-book-make": PLANNING,
    "jobs:build-book-file": PLANNING,
    # crew and the day
    "jobs:crew": PLANNING,
    "jobs:member-add": PLANNING,
    "jobs:member": PLANNING,
    "jobs:member-change": PLANNING,
    "jobs:absence-add": PLANNING,
    "jobs:absence-remove": PLANNING,
    "jobs:event-crew": PLANNING,
    "jobs:shift-add": PLANNING,
    "jobs:shift-check": PLANNING,
    "jobs:shift": PLANNING,
    "jobs:shift-remove": PLANNING,
    "jobs:day-sheet": EVERYONE,
    "jobs:day-book": EVERYONE,
    "jobs:day-board": PLANNING,
    # proofs
    "jobs:event-proof": PLANNING,
    "jobs:proof-new": PLANNING,
    "jobs:proof-draft-picture": PLANNING,
    "jobs:proof-link-new": PLANNING,
    "jobs:proof-link-end": PLANNING,
    "jobs:event-proof-picture": PLANNING,
    "jobs:event-proof-version": PLANNING,
    "jobs:proof": CLIENT_LINK,
    "jobs:proof-approve": CLIENT_LINK,
    "jobs:proof-change": CLIENT_LINK,
    "jobs:proof-decline": CLIENT_LINK,
    "jobs:proof-picture": CLIENT_LINK,
    "jobs:proof-version": CLIENT_LINK,
    # estimates, stock of an event, quick answer
    "jobs:event-estimate": PLANNING,
    "jobs:estimate-start": PLANNING,
    "jobs:estimate-state": PLANNING,
    "jobs:event-stock": PLANNING,
    "jobs:event-hold": PLANNING,
    "jobs:event-confirm": PLANNING,
    "jobs:event-release": PLANNING,
    "jobs:ask": PLANNING,
    "jobs:ask-change": PLANNING,
    "jobs:ask-answer": PLANNING,
    "jobs:ask-hold": PLANNING,
    "jobs:ask-no": PLANNING,
    # stock
    "inventory:stock": PLANNING,
    "inventory:item-new": PLANNING,
    "inventory:item-add": PLANNING,
    "inventory:item": PLANNING,
    "inventory:item-change": PLANNING,
    "inventory:item-stop": PLANNING,
    "inventory:item-use-again": PLANNING,
    "inventory:lot-new": PLANNING,
    "inventory:lot-change": PLANNING,
    "inventory:lot-receive": PLANNING,
    "inventory:lot-remove": PLANNING,
}


def allowed(view_name: str, role: str) -> bool:
    rule = MATRIX.get(view_name)
    return rule is not None and role in rule.roles
