"""What the invented crew picked, brought back and burst."""

from datetime import timedelta

from decor.studio.models import User
from inventory.ledger import out_with
from inventory.models import Item
from inventory.picking import pick
from inventory.returning import Ways, take_back
from jobs.events.models import Event


def picked(event: Event, by: User, share: float) -> None:
    """The first `share` of the event's pick list, the afternoon before."""
    event.refresh_from_db()
    if event.reservation is None:
        return
    lines = list(event.reservation.lines.select_related("item").order_by("item__bin", "item__name"))
    for line in lines[: round(len(lines) * share)]:
        pick(
            reservation=event.reservation,
            item=line.item,
            quantity=line.quantity,
            by=by,
            at=event.load_in - timedelta(hours=18),
        )


def counted_back(event: Event, by: User) -> None:
    """Of each hundred balloons five burst, and five were left over."""
    event.refresh_from_db()
    if event.reservation is None:
        return
    out = out_with(event.reservation)
    for item in Item.objects.filter(pk__in=out).order_by("pk"):
        away = out[item.pk]
        few = away // 20
        ways = Ways(back=away) if item.returnable else Ways(back=few, burst=few, used=away - 2 * few)
        take_back(reservation=event.reservation, item=item, ways=ways, by=by, at=event.strike + timedelta(days=1))
