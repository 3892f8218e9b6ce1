"""What the tests of the quick answer and of an event's stock stand on: a store, a crew, and a caller's words."""

from datetime import timedelta
from decimal import Decimal

from inventory.models import Hardware, Item, Latex, Lot, Sheet
from jobs.crew.models import Member
from jobs.designs.models import Piece
from jobs.estimates.services import estimate_now
from tests.jobs.desk.conftest import coming, make_event

PANEL = {"rough": True, "width": 3, "height": 2.5, "unit": "m", "loading": "paired", "colours": ["sky"]}
COLUMN = {"rough": True, "height": 1.8, "unit": "m", "balloons": 4, "pattern": "spiral", "colours": ["red", "white"]}
SKILLS = {
    "Olive": ["lead", "rig", "drive"],
    "Pat": ["lead", "inflate", "load"],
    "Cory": ["rig", "drive", "inflate"],
    "Drew": ["inflate", "load"],
}


def piece(kind: str = "panel", **given: object) -> dict:
    measures = {**(PANEL if kind == "panel" else COLUMN), **given.pop("measures", {})}
    titles = {"panel": "Lighthouse", "column": "Columns"}
    plain = {"key": kind, "kind": kind, "count": 1, "built_at": "workshop", "fill": "air", "title": titles[kind]}
    return {**plain, **given, "measures": measures}


def save_pieces(event, *pieces: dict) -> None:
    for number, given in enumerate(pieces):
        fields = {name: value for name, value in given.items() if name != "key"}
        Piece.objects.create(event=event, position=number, **fields)


def estimated_event(client, venue, *, days: int = 30):
    """A panel and two columns, with their estimate."""
    made = make_event(client, venue, coming(days))
    save_pieces(made, piece(), piece("column", count=2))
    estimate_now(event=made)
    return made


def fill_store(today, *, sky: int = 600, sheets: int = 4) -> dict[str, Item]:
    """Sheets of 13 × 22 cells, balloons of 5 and 11 in in three colours, poles and bases for six columns."""
    net = Sheet.objects.create(
        kind="sheet", name="Net 13 wide, 22 high", rows=22, columns=13, pitch_m=0.124, row_pitch_m=0.118,
        sized_diameter_m=0.119, lattice="offset", tabs_per_side=22, tabs_per_end=13, pack_price=Decimal(24),
        uses=6, returnable=True, lead_days=8,
    )  # fmt: skip
    made: dict[str, Item] = {"net": net}
    for size, price in ((5, "6.20"), (11, "14.50")):
        for colour, rgb in (("sky", "#7db3d8"), ("red", "#c62f28"), ("white", "#f4f1ea")):
            made[f"{colour} {size}"] = Latex.objects.create(
                kind="latex", name=f"{colour}, {size} in", nominal_in=size, colour=colour, rgb=rgb, pack_size=100,
                pack_price=Decimal(price), lead_days=5,
            )  # fmt: skip
    for name, purpose in (("Pole", "pole"), ("Base plate", "base")):
        made[purpose] = Hardware.objects.create(
            kind="hardware", name=name, purpose=purpose, returnable=True, pack_price=Decimal(20), lead_days=6
        )
    amounts = {"net": sheets, "sky 5": sky, "pole": 6, "base": 6}
    for name, item in made.items():
        stock(item, amounts.get(name, 600), today)
    return made


def stock(item: Item, quantity: int, today, *, arrives: int = -30, received: bool = True) -> None:
    if quantity:
        day = today + timedelta(days=arrives)
        Lot.objects.create(item_id=item.pk, quantity=quantity, arrives_on=day, received=received)


def hire(*names: str) -> dict[str, Member]:
    return {name: Member.objects.create(name=name, skills=SKILLS[name]) for name in names or SKILLS}
