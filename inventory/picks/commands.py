"""What the store's pages send from the outbox: picked, came back, counted. Each may come late and twice, and two people
may work on one list: a tick of all of it merges; a smaller number said of something that another hand changed is shown
to whoever said it."""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.utils import timezone

from decor.studio.commands import Command, Conflict, Refused
from decor.studio.numbers import MOST_ID
from inventory import counting, ledger, returning, whose
from inventory.forms import MOST_PIECES
from inventory.models import Item, Reservation, ReservationLine
from inventory.picks import acts
from inventory.returning import Ways
from inventory.services import items_lock
from inventory.shown import span_words
from inventory.stocking import PromisesBroken

RELOAD = "Reload the page."


def item_picked(told: Command) -> dict[str, Any]:
    """`total` pieces are picked in all, whoever picked them; None: all that the event needs. `none_left`: no more is
    on the shelf."""
    reservation, line = _line(told)
    total = told.body.get("total")
    if total is not None:
        total = _number(total, "number")
    picked = acts.picked_of(reservation, line.item_id)
    lower = total is not None and total < picked
    if lower and told.base_version is not None and told.base_version != picked:
        now = acts.pick_now(reservation, line, told.user)
        raise Conflict(now | {"message": f"Somebody else says {picked:,} are picked."})
    note = acts.pick(
        reservation=reservation,
        line=line,
        total=total,
        none_left=told.body.get("none_left") is True,
        by=told.user,
        at=told.at,
    )
    counting.told_late(item=line.item, at=told.at, by=told.user)
    return acts.pick_now(reservation, line, told.user) | {"note": note}


def item_returned(told: Command) -> dict[str, Any]:
    """`ways` are the pieces that went otherwise than meant; `taken`: what nobody ticked went out as planned."""
    reservation, line = _line(told, also_done=True)
    given = told.body.get("ways", {})
    if not isinstance(given, dict) or given.keys() - set(returning.Ways().__dict__):
        raise Refused(f"The page did not say what became of it. {RELOAD}")
    ways = Ways(**{name: _number(value, "number") for name, value in given.items()})
    taken = told.body.get("taken") is True
    if not line.counts:
        if acts.same_ways(reservation, line.item, ways):
            return acts.return_now(reservation, line.item_id)
        now = acts.return_now(reservation, line.item_id)
        raise Conflict(now | {"message": f"It is counted back already: {now['became']}."})
    _try(returning.count_back, reservation=reservation, item=line.item, ways=ways, taken=taken, told=told)
    counting.told_late(item=line.item, at=told.at, by=told.user)
    return acts.return_now(reservation, line.item_id)


def return_undone(told: Command) -> dict[str, Any]:
    reservation, line = _line(told, also_done=True)
    if not line.counts:
        try:
            _try(returning.count_back_undo, reservation=reservation, item=line.item, told=told)
        except PromisesBroken:
            raise Refused("It is promised to other events by now. Count the shelf instead.") from None
        counting.told_late(item=line.item, at=told.at, by=told.user)
    return acts.return_now(reservation, line.item_id)


def item_counted(told: Command) -> dict[str, Any]:
    """So many lay there at that moment; `knew` is what the page thought the ledger says."""
    item = Item.objects.filter(pk=_id(told.body.get("item"))).first()
    if item is None:
        raise Refused("This is no longer in the studio's list.")
    if not acts.may_count(told.user, item):
        raise PermissionDenied
    found, why = _number(told.body.get("found"), "number"), told.body.get("why", "")
    if not isinstance(why, str):
        raise Refused(f"The page did not say why. {RELOAD}")
    said, here = counting.said_at(item, told.at), ledger.on_hand([item.pk])[item.pk]
    even = told.body.get("even_if_short") is True
    try:
        counting.count(item=item, found=found, by=told.user, why=acts.plain(why), at=told.at, even_if_short=even)
    except PromisesBroken as refusal:
        promises = [f"{p.label}, {span_words(p.starts, p.ends)}: {p.short:,} short" for p in refusal.promises]
        if not told.user.is_staff_role:
            promises = [f"{len(promises)} of the studio's promises"]
        # In the message itself, which the phone keeps with what waits: still told after the page was loaded again.
        words = f"This leaves promises short: {'; '.join(promises)}"
        raise Conflict({"message": words, "promises": promises, "item": item.pk}) from None
    counting.told_late(item=item, at=told.at, by=told.user)
    now = ledger.on_hand([item.pk])[item.pk]
    return {
        "item": item.pk,
        "said": now,
        "note": acts.count_note(found, said, here, now, told.body.get("knew")),
        "at": timezone.now().isoformat(),
    }


def _try(act: Any, *, told: Command, **what: Any) -> None:
    try:
        act(**what, by=told.user, at=told.at)
    except ValueError as refusal:
        raise Refused(acts.why_not(refusal)) from None


def _line(told: Command, *, also_done: bool = False) -> tuple[Reservation, ReservationLine]:
    """Locked, so that what is compared is what stands there when it is written."""
    reservations = Reservation.objects.select_for_update(no_key=True)
    reservation = reservations.filter(pk=_id(told.body.get("reservation"))).first()
    if reservation is None:
        raise Refused("This list is no longer in the studio's books.")
    if not whose.may_open(told.user, reservation):
        raise PermissionDenied
    line = reservation.lines.select_related("item").filter(item=_id(told.body.get("item"))).first()
    if line is None:
        raise Refused(acts.NOT_NEEDED)
    items_lock(item_ids=[line.item_id])
    if not line.counts and not also_done:
        raise Refused("It is counted back already, so nothing is picked any more.")
    return reservation, line


def _id(value: object) -> int:
    return value if type(value) is int and 0 < value <= MOST_ID else 0


def _number(value: object, name: str) -> int:
    if type(value) is not int or not 0 <= value <= MOST_PIECES:
        raise Refused(f"The page did not say which {name} it is. {RELOAD}")
    return value
