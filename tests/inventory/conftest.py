from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.models import Hardware, Item, Latex, Lot


@pytest.fixture
def sky(db) -> Latex:
    return Latex.objects.create(
        kind=Item.Kind.LATEX,
        name="5 in sky",
        nominal_in=Decimal(5),
        colour="sky",
        rgb="#7db3d8",
        pack_size=100,
        pack_price=Decimal("6.20"),
        lead_days=5,
        supplier="Estuary Latex",
        bin="B2",
    )


@pytest.fixture
def red(db) -> Latex:
    return Latex.objects.create(
        kind=Item.Kind.LATEX, name="11 in red", nominal_in=Decimal(11), colour="red", rgb="#c62828", pack_size=50
    )


@pytest.fixture
def pole(db) -> Hardware:
    return Hardware.objects.create(kind=Item.Kind.HARDWARE, name="Pole, 2 m", purpose="pole", returnable=True)


NOW = datetime(2031, 5, 1, 9, tzinfo=UTC)


def day(number: int, hour: int = 0) -> datetime:
    """Midnight, or an hour, of day `number` counted from 1 May 2031."""
    return datetime(2031, 5, 1, hour, tzinfo=UTC) + timedelta(days=number)


def stock(item: Item, quantity: int, arrives: int = -10, *, received: bool = True, use_by: int | None = None) -> Lot:
    return Lot.objects.create(
        item_id=item.pk,
        quantity=quantity,
        arrives_on=day(arrives).date(),
        received=received,
        use_by=None if use_by is None else day(use_by).date(),
    )


def on_shelf(item: Item, quantity: int, **more: object) -> Lot:
    return Lot.objects.create(item_id=item.pk, quantity=quantity, arrives_on=date(2024, 1, 10), **more)
