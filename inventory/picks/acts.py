"""The store's acts with the words for what became of them; pages with and without script do the same."""

from dataclasses import fields
from datetime import datetime
from typing import Any

from django.utils import timezone

from decor.studio.commands import Refused
from decor.studio.models import User
from decor.studio.templatetags.desk import plural
from inventory import ledger, picking
from inventory.models import Item, Reservation, ReservationLine
from inventory.picks import counts, returns
from inventory.picks.shorts import short_words
from inventory.returning import Ways

State = Reservation.State
NOT_NEEDED = "The event does not need this any more. Leave it on the shelf."
NOT_CONFIRMED = "The event is only on hold. Have it confirmed, then tick it."
WHY_NOT = (
    ("reservation is on hold", NOT_CONFIRMED),
    ("reservation is released", "The event gave its things up, so nothing is picked for it any more."),
    ("reservation is counted back", "The event is counted back already."),
    ("item is counted back already", "It is counted back already."),
    ("item is not counted back", "It is not counted back, so there is nothing to undo."),
    ("item was taken", "It was taken for something else since. Count the shelf instead."),
    ("item is not promised", NOT_NEEDED),
    ("ways", "That is more than is out with the event."),
    ("total", "That is more than the event needs."),
)


def why_not(refusal: ValueError) -> str:
    said = str(refusal)
    return next((words for start, words in WHY_NOT if said.startswith(start)), said[:1].upper() + said[1:])


def picked_of(reservation: Reservation, item_id: int) -> int:
    gone = ledger.moved([item_id], [reservation.pk]).get((reservation.pk, item_id))
    return gone.picked if gone else 0


def pick(
    *,
    reservation: Reservation,
    line: ReservationLine,
    total: int | None,
    none_left: bool,
    by: User,
    at: datetime,
) -> str:
    """Gives what to say about it. Raises Refused in words for people."""
    if reservation.state == State.HOLD:
        raise Refused(NOT_CONFIRMED)
    wanted = line.quantity if total is None else min(total, line.quantity)
    before = _store_and_picked(reservation, line) if none_left else 0
    try:
        picking.picked_in_all(reservation=reservation, item=line.item, total=wanted, no_more=none_left, by=by, at=at)
    except ValueError as refusal:
        raise Refused(why_not(refusal)) from None
    if total is not None and total > line.quantity:
        return f"The event needs {line.quantity:,} now: put {total - line.quantity:,} back."
    # One tap may say that many are gone: whoever said it by mistake is to see it.
    gone = before - _store_and_picked(reservation, line) if none_left else 0
    return f"By the ledger {gone:,} more were here, which are written off now. Not so? Count them." if gone > 0 else ""


def _store_and_picked(reservation: Reservation, line: ReservationLine) -> int:
    return ledger.on_hand([line.item_id])[line.item_id] + picked_of(reservation, line.item_id)


def pick_now(reservation: Reservation, line: ReservationLine, user: User) -> dict[str, Any]:
    """How one row stands, and when that was so: a page keeps the newest."""
    now, picked = timezone.now(), picked_of(reservation, line.item_id)
    return {
        "item": line.item_id,
        "asked": line.quantity,
        "picked": picked,
        "here": ledger.on_hand([line.item_id])[line.item_id],
        "short": short_words(line.item_id, user, now),
        "version": picked,
        "at": now.isoformat(),
    }


def return_now(reservation: Reservation, item_id: int) -> dict[str, Any]:
    row = next(row for row in returns.return_list(reservation) if row.item.pk == item_id)
    return {
        "item": item_id,
        "state": row.state,
        "out": row.out,
        "became": row.became,
        "at": timezone.now().isoformat(),
    }


def same_ways(reservation: Reservation, item: Item, ways: Ways) -> bool:
    """Whether somebody said just that before: what differs from how it was meant is alike."""
    was: dict[str, int] = {}
    for kind, away in reservation.movements.filter(item=item, kind__in=returns.TOLD).values_list("kind", "out"):
        name = "back" if kind == "worn" else kind
        was[name] = was.get(name, 0) - away
    meant = "back" if item.returnable else "used"
    names = [field.name for field in fields(Ways) if field.name != meant]
    return all(was.get(name, 0) == getattr(ways, name) for name in names)


def may_count(user: User, item: Item) -> bool:
    allowed = counts.countable(user, timezone.now())
    return allowed is None or item.pk in set(allowed)


def count_note(found: int, said: int, here: int, now: int, knew: object) -> str:
    """What the count came to, and what was moved besides."""
    differs = found - said
    if not differs:
        words = f"{found:,}, as the ledger says."
    else:
        words = (
            f"{found:,} counted where the ledger said {said:,}: {abs(differs):,} {'more' if differs > 0 else 'fewer'}."
        )
    if here != said:
        moved = here - said
        words += f" Since you counted {abs(moved):,} {'came in' if moved > 0 else 'went out'}, so {now:,} are here now."
    elif type(knew) is int and knew != said:
        words += f" The page still thought that {plural(knew, 'is,are')} there; something was moved before you counted."
    return words


def plain(text: str) -> str:
    """A reason as one line that every database keeps."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())[:200]
