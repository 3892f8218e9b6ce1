"""What would be fetched before its event's own time: whom that leaves without, told before it is done."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from decor.studio.models import User
from inventory import stocking
from inventory.allocation import LotShare
from inventory.availability import Stock
from inventory.balance import Demand, Supply
from inventory.models import ReservationLine
from inventory.picks.shorts import lines_named


@dataclass(frozen=True)
class Early:
    """`safe` may be picked in all, and nobody lacks more for it; `says` who would if all of it were."""

    safe: int = 0
    says: str = ""


NOBODY = Early()


@dataclass(frozen=True)
class Taking:
    """A line that may be taken off the shelf now, from these lots, as its item stands."""

    line: ReservationLine
    stock: Stock
    shares: Sequence[LotShare]
    now: datetime

    def after(self, number: int) -> Stock:
        """With so many more of them picked."""
        mine = self.line.pk
        if self.stock.returnable:
            out = Demand(number, self.now, self.line.ends, mine, out=True)
            return replace(self.stock, demands=[*_fewer(self.stock.demands, mine, number), out])
        return replace(
            self.stock,
            supplies=_taken(self.stock.supplies, self.shares, number),
            wear=_fewer(self.stock.wear, mine, number),
        )

    @cached_property
    def before(self) -> dict[int, int]:
        return stocking.lacking_of(self.stock, self.now, shared=self.stock.returnable)

    def worse(self, number: int) -> list[int]:
        """Lines of others that then lack more than they do now."""
        after = stocking.lacking_of(self.after(number), self.now, shared=self.stock.returnable)
        return [pk for pk, lacks in after.items() if pk != self.line.pk and lacks > self.before.get(pk, 0)]

    def most(self, rest: int) -> int:
        """As many as leave nobody worse, where all of them would."""
        low, high = 0, rest
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if self.worse(middle) else (middle, high)
        return low


def early_of(takings: Iterable[Taking], picked: Mapping[int, int], user: User) -> dict[int, Early]:
    """{item id: …}, only of what is taken before its promise begins and would be lacking to somebody meanwhile;
    `picked` by item."""
    found: dict[int, tuple[int, dict[int, int]]] = {}
    for one in takings:
        had = picked.get(one.line.item_id, 0)
        rest = one.line.quantity - had
        if one.line.starts <= one.now or rest <= 0 or not (worse := one.worse(rest)):
            continue
        lacking = stocking.lacking_of(one.after(rest), one.now)
        found[one.line.item_id] = (had + one.most(rest), {pk: lacking[pk] for pk in worse})
    if not found:
        return {}
    words = lines_named({pk: n for _, of_it in found.values() for pk, n in of_it.items()}, user)
    says = {item: f"Taken now, missing elsewhere: {', '.join(parts)}" for item, parts in words.items()}
    return {item: Early(safe, says[item]) for item, (safe, _) in found.items()}


def _fewer(demands: Iterable[Demand], line: int, number: int) -> list[Demand]:
    found = []
    for demand in demands:
        if demand.line_id == line and not demand.out:
            gone = min(number, demand.quantity)
            number -= gone
            demand = demand._replace(quantity=demand.quantity - gone)
        if demand.quantity:
            found.append(demand)
    return found


def _taken(supplies: Iterable[Supply], shares: Iterable[LotShare], number: int) -> list[Supply]:
    gone: dict[int, int] = {}
    for share in shares:
        gone[share.lot_id] = min(number, share.quantity)
        number -= gone[share.lot_id]
    return [s._replace(quantity=s.quantity - gone.get(s.lot_id, 0)) for s in supplies]
