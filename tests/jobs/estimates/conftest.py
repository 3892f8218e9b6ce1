from datetime import date
from decimal import Decimal

import pytest

from inventory.models import Cylinder, Hardware, Item, Lot
from tests.jobs.designs.conftest import (  # noqa: F401
    column_piece,
    event,
    latex,
    panel_piece,
    sheets,
    stocked,
)


@pytest.fixture
def store(sheets, stocked):  # noqa: F811
    """Nine large sheets, 400 of every balloon but no yellow round 5 in, poles and bases for eight columns, a
    cylinder."""
    pole = Hardware.objects.create(
        kind=Item.Kind.HARDWARE, name="Pole", purpose="pole", returnable=True, pack_price=Decimal(18)
    )
    base = Hardware.objects.create(
        kind=Item.Kind.HARDWARE, name="Base", purpose="base", returnable=True, pack_price=Decimal(22)
    )
    gas = Cylinder.objects.create(
        kind=Item.Kind.CYLINDER, name="Helium", returnable=True, pack_price=95, water_volume_l=20, pressure_bar=200
    )
    for item, quantity in ((sheets["large"], 9), (sheets["small"], 9), (pole, 8), (base, 8), (gas, 2)):
        Lot.objects.create(item_id=item.pk, quantity=quantity, arrives_on=date(2025, 1, 1))
    return {**sheets, **stocked, "pole": pole, "base": base, "gas": gas}
