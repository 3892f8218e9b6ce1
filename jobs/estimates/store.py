"""Hardware and gas cylinders as an estimate needs them; sheets and balloons stand in the catalogue."""

from dataclasses import dataclass
from decimal import Decimal

from decor.calc.estimate import Cylinder
from decor.calc.units import bar_to_pa
from inventory.models import Cylinder as CylinderItem
from inventory.models import Hardware, Item

HARDWARE_USES = 50
"""Uses that a pole or a base is paid off over (studio default, no source)."""

PURPOSES = {"pole": "pole", "base plate": "base"}
"""What the arithmetic calls a thing, and what the stock calls its purpose."""


def new_thing(name: str) -> dict[str, str]:
    """What the stock's form starts with where the arithmetic asks for a thing that the studio has not."""
    return {"name": name.capitalize(), "purpose": PURPOSES.get(name, "other")}


@dataclass(frozen=True)
class Thing:
    id: int
    name: str
    purpose: str
    pack_size: int
    pack_price: Decimal


@dataclass(frozen=True)
class Store:
    hardware: tuple[Thing, ...]
    cylinders: tuple[Thing, ...]
    gas: Cylinder

    def things(self, name: str) -> tuple[Thing, ...]:
        """All that serve where the arithmetic asks for this by name."""
        return tuple(thing for thing in self.hardware if thing.purpose == PURPOSES.get(name, name))

    def hardware_costs(self) -> tuple[tuple[str, Decimal], ...]:
        """Of one use of each, by the arithmetic's name; the first that the studio has stands for its like."""
        found = ((name, self.things(name)) for name in PURPOSES)
        return tuple(
            (name, things[0].pack_price / things[0].pack_size / HARDWARE_USES) for name, things in found if things
        )


def store_now() -> Store:
    """Two queries. The studio's first cylinder is the one that helium is reckoned in."""
    hardware = tuple(_thing(item, item.purpose) for item in Hardware.objects.filter(active=True).order_by("name"))
    cylinders = list(CylinderItem.objects.filter(active=True).order_by("pk"))
    return Store(
        hardware,
        tuple(_thing(item, "cylinder") for item in cylinders[:1]),
        _gas(cylinders[0]) if cylinders else Cylinder(),
    )


def _thing(item: Item, purpose: str) -> Thing:
    return Thing(item.pk, item.name, purpose, item.pack_size, item.pack_price)


def _gas(item: CylinderItem) -> Cylinder:
    gauge_pa = bar_to_pa(item.pressure_bar)
    return Cylinder(
        water_volume_m3=item.water_volume_l / 1000.0,
        gauge_pressure_pa=gauge_pa,
        residual_gauge_pa=min(Cylinder.residual_gauge_pa, gauge_pa),
        price=item.unit_cost,
        rent_per_week=item.rent_per_week if item.rented else Decimal(0),
    )
