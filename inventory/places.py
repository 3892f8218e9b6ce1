"""Bins and suppliers by the names that items use, and what a code on a label means."""

import re

from inventory.models import Bin, Item, Supplier

ADDRESS = re.compile(r"/(?P<what>[bi])/(?P<number>\d{1,18})/?$")
FIGURES = re.compile(r"(\d+)")


def bin_of(name: str) -> Bin:
    """The bin of this name in any case, made when there is none; the last one walked past."""
    name = " ".join(name.split())
    if not name:
        raise ValueError("name must not be empty")
    found = Bin.objects.filter(name__iexact=name).first()
    if found:
        return found
    last = Bin.objects.order_by("-position").values_list("position", flat=True).first() or 0
    return Bin.objects.get_or_create(name=name, defaults={"position": last + 1})[0]


def supplier_of(name: str) -> Supplier:
    name = " ".join(name.split())
    if not name:
        raise ValueError("name must not be empty")
    found = Supplier.objects.filter(name__iexact=name).first()
    return found or Supplier.objects.get_or_create(name=name)[0]


def places_keep(item: Item) -> None:
    """Where it lies and whom it comes from have a row of their own from now on."""
    if item.bin.strip():
        item.bin = bin_of(item.bin).name
    if item.supplier.strip():
        item.supplier = supplier_of(item.supplier).name


def natural(name: str) -> list[tuple[int, int, str]]:
    """A2 before A10."""
    parts = FIGURES.split(name.casefold())
    return [(0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts if part]


def walk_order() -> dict[str, tuple[int, list[tuple[int, int, str]]]]:
    """{bin's name in small letters: its place on the way through the store}; names without a row come last."""
    rows = Bin.objects.values_list("name", "position")
    return {name.casefold(): (position, natural(name)) for name, position in rows}


def place_on_the_way(name: str, order: dict[str, tuple[int, list[tuple[int, int, str]]]]) -> tuple:
    """Sorts by the walk, then by name; what lies nowhere comes last."""
    if not name:
        return (2, 0, [])
    known = order.get(name.casefold())
    return (0, *known) if known else (1, 0, natural(name))


def found_by_code(text: str) -> Bin | Item | None:
    """What somebody scanned or typed: the address on a label, a bin's name in any case, an item's number."""
    # One of the databases refuses a NUL.
    text = text.replace("\0", "").strip()[:200]
    if address := ADDRESS.search(text):
        kind = Bin if address["what"] == "b" else Item
        return kind.objects.filter(pk=int(address["number"])).first()
    if not text:
        return None
    if found := Bin.objects.filter(name__iexact=text).first():
        return found
    number = re.sub(r"^(?:no\.?|nr\.?|№|#)\s*", "", text, flags=re.IGNORECASE)
    if number.isascii() and number.isdecimal() and len(number) < 19:
        return Item.objects.filter(pk=int(number)).first()
    return None
