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
    "studio:mail": OWNING,
    "studio:mail-test": OWNING,
    "studio:commands": EVERYONE,
    "studio:service-worker": PUBLIC,
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
    "jobs:chart-cells": PLANNING,
    "jobs:chart-rows": PLANNING,
    "jobs:chart-source": PLANNING,
    "jobs:panel-frame": PLANNING,
    "jobs:panel-frame-look": PLANNING,
    "jobs:panel-frame-picture": PLANNING,
    "jobs:panel-sheets": PLANNING,
    "jobs:panel-colours": PLANNING,
    "jobs:panel-colours-look": PLANNING,
    "jobs:panel-colours-buy": PLANNING,
    "jobs:chart-put-back": PLANNING,
    "jobs:panel-words": PLANNING,
    "jobs:panel-words-look": PLANNING,
    "jobs:panel-pattern": PLANNING,
    "jobs:panel-pattern-look": PLANNING,
    # pictures to hand out
    "jobs:panel-pictures": PLANNING,
    "jobs:panel-picture": PLANNING,
    "jobs:panel-venue": PLANNING,
    "jobs:panel-venue-image": PLANNING,
    # the library
    "jobs:library": PLANNING,
    "jobs:library-read": PLANNING,
    "jobs:kept-panel": PLANNING,
    "jobs:kept-file": PLANNING,
    "jobs:kept-remove": PLANNING,
    "jobs:panel-keep": PLANNING,
    "jobs:panel-library": PLANNING,
    "jobs:kept-use": PLANNING,
    # chart paper and back
    "jobs:panel-paper": PLANNING,
    "jobs:panel-paper-read": PLANNING,
    "jobs:panel-paper-file": PLANNING,
    "jobs:panel-paper-crops": PLANNING,
    "jobs:panel-paper-answer": PLANNING,
    "jobs:panel-paper-take": PLANNING,
    # loading at the table: crew with a shift on the event
    "jobs:panel-table": EVERYONE,
    "jobs:panel-table-sheet": EVERYONE,
    "jobs:panel-table-here": EVERYONE,
    "jobs:panel-table-tick": EVERYONE,
    # build books
    "jobs:build-book": PLANNING,
    "jobs:build-book-read": EVERYONE,
    "jobs:build-book-chart": EVERYONE,
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
    "jobs:panel-figures": PLANNING,
    "jobs:panel-ways": PLANNING,
    "jobs:panel-pairs": PLANNING,
    "jobs:panel-strings": PLANNING,
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
    "inventory:check": PLANNING,
    "inventory:item-new": PLANNING,
    "inventory:item-add": PLANNING,
    "inventory:item": PLANNING,
    "inventory:item-change": PLANNING,
    "inventory:item-stop": PLANNING,
    "inventory:item-use-again": PLANNING,
    "inventory:item-order": PLANNING,
    "inventory:promise": PLANNING,
    "inventory:promise-confirm": PLANNING,
    "inventory:promise-longer": PLANNING,
    "inventory:promise-release": PLANNING,
    "inventory:lot-new": PLANNING,
    "inventory:lot-change": PLANNING,
    "inventory:lot-receive": PLANNING,
    "inventory:lot-remove": PLANNING,
    "inventory:bins": PLANNING,
    "inventory:bin": EVERYONE,
    "inventory:bin-change": PLANNING,
    "inventory:bin-move": PLANNING,
    "inventory:bin-remove": PLANNING,
    "inventory:labels": PLANNING,
    "inventory:suppliers": PLANNING,
    "inventory:supplier": PLANNING,
    "inventory:supplier-new": PLANNING,
    "inventory:supplier-change": PLANNING,
    "inventory:supplier-remove": PLANNING,
    "label:bin": EVERYONE,
    "label:item": EVERYONE,
    "inventory:matters": PLANNING,
    "inventory:buy": PLANNING,
    "inventory:orders": PLANNING,
    "inventory:order": PLANNING,
    "inventory:order-change": PLANNING,
    "inventory:order-send": PLANNING,
    "inventory:order-mail": PLANNING,
    "inventory:order-due": PLANNING,
    "inventory:order-cancel": PLANNING,
    "inventory:order-receive": PLANNING,
    "inventory:order-pdf": PLANNING,
    "inventory:order-csv": PLANNING,
    "inventory:import-new": PLANNING,
    "inventory:export": PLANNING,
    "inventory:import": PLANNING,
    "inventory:import-columns": PLANNING,
    "inventory:import-check": PLANNING,
    "inventory:import-take": PLANNING,
    "inventory:import-undo": PLANNING,
    "inventory:import-errors": PLANNING,
    "inventory:colour-photo-new": PLANNING,
    "inventory:colour-photo": PLANNING,
    "inventory:colour-photo-picture": PLANNING,
    "inventory:colour-photo-spot": PLANNING,
    "inventory:colour-photo-take": PLANNING,
    # the store's work: crew for the events that they have a shift on
    "inventory:store-work": EVERYONE,
    "inventory:pick": EVERYONE,
    "inventory:pick-now": EVERYONE,
    "inventory:pick-tick": EVERYONE,
    "inventory:return": EVERYONE,
    "inventory:return-tick": EVERYONE,
    "inventory:settle": PLANNING,
    "inventory:count": EVERYONE,
    "inventory:count-bin": EVERYONE,
    "inventory:count-tick": EVERYONE,
    "inventory:ledger": PLANNING,
    "inventory:ledger-correct": PLANNING,
}

COMMANDS: dict[str, Rule] = {
    # what pages send from their outbox; the handler itself looks whose thing it is
    "chart.paint": PLANNING,
    "row_loaded": EVERYONE,
    "row_unloaded": EVERYONE,
    "item_picked": EVERYONE,
    "item_returned": EVERYONE,
    "return_undone": EVERYONE,
    "item_counted": EVERYONE,
}


def command_allowed(name: str, role: str) -> bool:
    rule = COMMANDS.get(name)
    return rule is not None and role in rule.roles


def allowed(view_name: str, role: str) -> bool:
    rule = MATRIX.get(view_name)
    return rule is not None and role in rule.roles
