"""A confirmed promise of balloons, poles and sheets, for the tests of picking, returning and counting."""

from datetime import datetime, timedelta

from django.utils import timezone

from decor.studio.models import User
from inventory import ledger, services
from inventory.models import Item, Reservation, Sheet
from tests.inventory.conftest import on_shelf

LABEL = "0042 Harbour fair"


def net(uses: int = 3) -> Sheet:
    return Sheet.objects.create(
        kind=Item.Kind.SHEET, name="Net 22 by 13", returnable=True, rows=22, columns=13, pitch_m=0.127,
        sized_diameter_m=0.12, uses=uses, bin="A10",
    )  # fmt: skip


def promise(
    lines: dict[Item, int], *, starts_in: int = 1, days: int = 2, label: str = LABEL, confirm: bool = True
) -> Reservation:
    """From so many days from now on; a past one is moved there, as nobody can promise the past."""
    starts = timezone.now() + timedelta(days=max(starts_in, 1))
    made = services.reservation_hold(
        lines=[(item.pk, quantity) for item, quantity in lines.items()],
        starts=starts,
        ends=starts + timedelta(days=days),
        label=label,
        expires=timezone.now() + timedelta(days=1),
    )
    if confirm:
        services.reservation_confirm(reservation=made)
    if starts_in < 1:
        begun = timezone.now() + timedelta(days=starts_in)
        span = {"starts": begun, "ends": begun + timedelta(days=days)}
        Reservation.objects.filter(pk=made.pk).update(**span)
        made.lines.update(**span)
        made.refresh_from_db()
    return made


def stocked(item: Item, quantity: int, **more: object) -> Item:
    on_shelf(item, quantity, **more)
    return item


def here(item: Item) -> int:
    return ledger.on_hand([item.pk])[item.pk]


def out(reservation: Reservation, item: Item) -> int:
    return ledger.out_with(reservation).get(item.pk, 0)


def signed(reservation: Reservation, by: User, at: datetime) -> bool:
    lines = list(reservation.movements.all())
    return bool(lines) and all((line.by, line.at) == (by, at) for line in lines)
