"""What the invented studio has in store."""

from datetime import date, timedelta
from decimal import Decimal

from django.utils import timezone

from inventory import ordering
from inventory.models import Bin, Cylinder, Foil, Hardware, Item, Latex, Lot, Order, Sheet, Supplier
from inventory.stocking import latex_name

COLOURS = {
    "white": "#f4f1ea",
    "ivory": "#efe3c4",
    "yellow": "#f2c42e",
    "orange": "#ee7d2b",
    "red": "#c62f28",
    "dark red": "#7d1f2b",
    "pink": "#f0a3b8",
    "rose": "#d9608a",
    "lilac": "#b79bd6",
    "purple": "#6a3f98",
    "pale blue": "#a9cfe6",
    "sky": "#7db3d8",
    "blue": "#2f62ad",
    "navy": "#1f3864",
    "mint": "#a6d8c1",
    "green": "#4a8c4a",
    "dark green": "#1f5a3c",
    "sand": "#cdb18c",
    "brown": "#6f4a32",
    "grey": "#8f9499",
    "black": "#25272a",
}
METALLIC = {"gold": "#c9a24b", "silver": "#b9bec4"}


SUPPLIERS = {
    "Tern Net Works": "orders@ternnets.example",
    "Heron Latex": "desk@heronlatex.example",
    "Curlew Hardware": "sales@curlew.example",
    "Plover Gas": "",
}
BINS = ["A1", "A2", "A3", "B5", "B6", "B11", "C1", "C2", "C3", "C4", "C5", "Yard"]


def _lot(
    item: Item, quantity: int, today: date, *, age_days: int = 80, keeps_days: int | None = None, batch: str = ""
) -> None:
    arrived = today - timedelta(days=age_days)
    Lot.objects.create(
        batch=batch,
        item=item,
        quantity=quantity,
        arrives_on=arrived,
        use_by=arrived + timedelta(days=keeps_days) if keeps_days else None,
        unit_cost=item.unit_cost,
    )


def _sheets(today: date) -> None:
    plain = {"kind": Item.Kind.SHEET, "returnable": True, "lead_days": 8, "supplier": "Tern Net Works"}
    for name, data, quantity in [
        (
            "Net 13 wide, 22 high",
            {"rows": 22, "columns": 13, "lattice": "offset", "pitch_m": 0.124, "row_pitch_m": 0.118}
            | {"sized_diameter_m": 0.119, "tabs_per_side": 22, "tabs_per_end": 13, "weight_kg": 0.35, "uses": 6}
            | {"pack_price": Decimal("24.00"), "bin": "A1"},
            9,
        ),
        (
            "Net 8 by 8",
            {"rows": 8, "columns": 8, "lattice": "square", "pitch_m": 0.115, "sized_diameter_m": 0.114}
            | {"tabs_per_side": 8, "tabs_per_end": 8, "weight_kg": 0.09, "uses": 6}
            | {"pack_price": Decimal("7.50"), "bin": "A2"},
            14,
        ),
        (
            "Net 24 by 24",
            {"rows": 24, "columns": 24, "lattice": "square", "pitch_m": 0.115, "sized_diameter_m": 0.114}
            | {"tabs_per_side": 24, "tabs_per_end": 24, "weight_kg": 0.75, "uses": 5}
            | {"pack_price": Decimal("52.00"), "bin": "A3"},
            12,
        ),
    ]:
        _lot(Sheet.objects.create(name=name, **plain, **data), quantity, today, age_days=200)


def _latex(today: date) -> None:
    few = {"sky": 321, "dark red": 60, "lilac": 140}
    for colour, rgb in {**COLOURS, **METALLIC}.items():
        finish = "metallic" if colour in METALLIC else "plain"
        for nominal, shape, pack, price, amount, keeps in [
            (5, "round", 100, "6.20", few.get(colour, 900 if colour in {"white", "navy", "blue"} else 500), 700),
            (6, "double-ended", 100, "9.40", 300, 600),
            (11, "round", 100, "14.50", 250, 700),
        ]:
            if shape == "double-ended" and colour in METALLIC:
                continue
            item = Latex.objects.create(
                kind=Item.Kind.LATEX,
                name=latex_name(nominal_in=Decimal(nominal), shape=shape, colour=colour, finish=finish),
                pack_size=pack,
                pack_price=Decimal(price),
                lead_days=4,
                supplier="Heron Latex",
                bin=f"B{nominal}",
                nominal_in=Decimal(nominal),
                shape=shape,
                colour=colour,
                finish=finish,
                rgb=rgb,
                reorder_level=200 if nominal == 5 and colour in {"white", "navy"} else None,
            )
            if nominal == 5 and colour in {"white", "red", "yellow"}:
                # What is left of an older batch, which keeps less long.
                _lot(item, 80, today, age_days=660, keeps_days=keeps, batch="H-0417")
            _lot(item, amount, today, keeps_days=keeps, batch="H-0933")


def _hardware(today: date) -> None:
    for name, purpose, returnable, quantity, price, bin_ in [
        ("Pole, 2 m", "pole", True, 12, "18.00", "C1"),
        ("Base plate", "base", True, 12, "22.00", "C2"),
        ("Inflator, two nozzles", "inflator", True, 3, "160.00", "C3"),
        ("Sizer box", "sizer", True, 4, "25.00", "C3"),
        ("Spring clip", "clip", True, 120, "0.60", "C4"),
        ("Magnet, 30 kg", "magnet", True, 24, "4.80", "C4"),
        ("Crate, 60 litres", "bin", True, 20, "14.00", "C5"),
        ("Weight, 150 g", "weight", True, 60, "0.90", "C5"),
        ("Ribbon, 100 m", "ribbon", False, 14, "3.20", "C4"),
        ("Drop net, 500 balloons", "net", True, 2, "48.00", "C5"),
    ]:
        item = Hardware.objects.create(
            kind=Item.Kind.HARDWARE,
            name=name,
            purpose=purpose,
            returnable=returnable,
            pack_price=Decimal(price),
            lead_days=6,
            supplier="Curlew Hardware",
            bin=bin_,
        )
        _lot(item, quantity, today, age_days=300)
    cylinder = Cylinder.objects.create(
        kind=Item.Kind.CYLINDER,
        name="Helium, 20 l at 200 bar",
        returnable=True,
        pack_price=Decimal("95.00"),
        lead_days=3,
        supplier="Plover Gas",
        bin="Yard",
        water_volume_l=20,
        pressure_bar=200,
        rented=True,
        rent_per_week=Decimal("4.50"),
    )
    _lot(cylinder, 3, today, age_days=10)
    star = Foil.objects.create(
        kind=Item.Kind.FOIL,
        name="Star, 48 cm, gold",
        shape="star",
        height_cm=48,
        gas_volume_l=16,
        lift_g=5,
        pack_size=10,
        pack_price=Decimal("11.00"),
        lead_days=5,
        supplier="Heron Latex",
        bin="C4",
    )
    _lot(star, 30, today, age_days=60)


def fill_store(today: date) -> None:
    _sheets(today)
    _latex(today)
    _hardware(today)
    Supplier.objects.bulk_create(Supplier(name=name, email=email) for name, email in SUPPLIERS.items())
    Bin.objects.bulk_create(Bin(name=name, position=at) for at, name in enumerate(BINS, start=1))
    _orders(today)


def _orders(today: date) -> None:
    """One on its way: ribbon and weights, sent the day before yesterday."""
    things = Item.objects.filter(name__in=["Ribbon, 100 m", "Weight, 150 g"])
    order = ordering.orders_draft(packs={item.pk: 20 for item in things})[0]
    sent = timezone.now() - timedelta(days=2)
    ordering.order_send(order=order, due_on=today + timedelta(days=4), now=sent)
    Order.objects.filter(pk=order.pk).update(created=sent)
