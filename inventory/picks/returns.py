"""What is on its way back from an event, row by row."""

from collections.abc import Mapping
from dataclasses import dataclass

from inventory import ledger
from inventory.ledger import Moved
from inventory.models import Item, Lot, Movement, Reservation, ReservationLine, Sheet
from inventory.shown import capital

K = Movement.Kind
WAYS = ("back", "used", "burst", "thrown", "lost")
ASKED = {True: ("lost", "thrown", "used"), False: ("back", "burst", "thrown", "lost")}
"""What is asked about a returnable and about a consumable: whatever is not the way it was meant."""
WORDS = {
    "back": "Back unused",
    "used": "Used up",
    "burst": "Burst",
    "thrown": "Thrown away",
    "lost": "Lost",
}
TOLD = {K.BACK: "back", K.USED: "used", K.BURST: "burst", K.THROWN: "thrown away", K.LOST: "lost", K.WORN: "worn out"}


@dataclass(frozen=True)
class ReturnRow:
    """One item on its way back. `last_use`: sheets that this event wears out; `became`: what was said of it."""

    item: Item
    asked: int
    picked: int
    out: int
    rgb: str
    last_use: int
    done: bool
    became: str

    @property
    def words(self) -> str:
        return capital(self.item.name)

    @property
    def state(self) -> str:
        """`untold`: nobody ticked it as picked."""
        if self.done:
            return "done"
        return "open" if self.out else "untold"

    @property
    def last_words(self) -> str:
        one = self.last_use == 1
        return f"{self.last_use:,} {'is' if one else 'are'} at the last use and {'goes' if one else 'go'} after this"

    @property
    def meant(self) -> str:
        return f"All {self.out:,} back" if self.item.returnable else f"All {self.out:,} used"

    @property
    def meant_untold(self) -> str:
        return f"All {self.asked:,} {'went out and are back' if self.item.returnable else 'were used'}"

    @property
    def rest_words(self) -> str:
        return "came back in good order" if self.item.returnable else "is used"

    @property
    def fields(self) -> list[tuple[str, str, str]]:
        """Name, words, and what was typed: nothing yet."""
        return [(name, WORDS[name], "") for name in ASKED[self.item.returnable]]


def return_list(reservation: Reservation) -> list[ReturnRow]:
    """What is still to be told first."""
    lines = list(reservation.lines.select_related("item__latex").order_by("-counts", "item__kind", "item__name"))
    moved, became = ledger.moved_for(reservation), _became(reservation)
    lasts = _last_uses(reservation)
    return [_row(line, moved.get(line.item_id, Moved(0, 0, 0)), lasts, became.get(line.item_id, "")) for line in lines]


def _row(line: ReservationLine, gone: Moved, lasts: Mapping[int, int], became: str) -> ReturnRow:
    return ReturnRow(
        item=line.item,
        asked=line.quantity,
        picked=gone.picked,
        out=gone.out,
        rgb=line.item.latex.rgb if line.item.kind == Item.Kind.LATEX else "",
        last_use=lasts.get(line.item_id, 0) if line.counts else 0,
        done=not line.counts,
        became=became or "nothing was out",
    )


def _became(reservation: Reservation) -> dict[int, str]:
    """{item id: "260 used, 40 back"}"""
    amounts: dict[int, dict[str, int]] = {}
    rows = Movement.objects.filter(reservation=reservation, kind__in=TOLD).order_by()
    for item_id, kind, away in rows.values_list("item_id", "kind", "out"):
        kinds = amounts.setdefault(item_id, {})
        kinds[kind] = kinds.get(kind, 0) - away
    return {
        item_id: ", ".join(f"{kinds[kind]:,} {words}" for kind, words in TOLD.items() if kinds.get(kind))
        for item_id, kinds in amounts.items()
    }


def _last_uses(reservation: Reservation) -> dict[int, int]:
    """{sheet's id: how many of those that are out have one use left}"""
    uses = dict(
        Sheet.objects.filter(reserved__reservation=reservation, returnable=True, uses__gt=1).values_list("pk", "uses")
    )
    found: dict[int, int] = {}
    if not uses:
        return found
    lots = Lot.objects.in_bulk(
        Movement.objects.filter(reservation=reservation, item__in=uses).order_by().values_list("lot_id", flat=True)
    )
    rows = Movement.objects.filter(reservation=reservation, item__in=uses).order_by().values_list("lot_id", "out")
    for lot_id, out in rows:
        lot = lots[lot_id]
        left = uses[lot.item_id] if lot.uses_left is None else lot.uses_left
        if left <= 1:
            found[lot.item_id] = found.get(lot.item_id, 0) + out
    return found
