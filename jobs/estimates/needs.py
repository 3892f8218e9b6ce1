"""What an estimate takes from the store, line by line: what of it is free for the event, what is short, and what
buying that means. The same lines serve the quick answer, the estimate's "to" price and the hold."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from decor.calc.estimate import EstimateInput, ToBuy
from decor.calc.materials import gas_figures, hardware_lines, latex_lines, measured, sheet_lines
from decor.calc.physics.atmosphere import standard_air
from inventory.availability import free
from inventory.expecting import OnOrder, free_and_on_order, on_order_words
from inventory.models import Item, Reservation
from inventory.services import ShortLine, packs_to_buy
from jobs.designs.catalogue import Catalogue, LatexItem, SheetType
from jobs.estimates.store import Store, Thing
from jobs.events.shelf import StockSpan


@dataclass(frozen=True)
class Choice:
    """A stock item that would serve a need."""

    id: int
    pack_size: int
    pack_price: Decimal


@dataclass(frozen=True)
class StockNeed:
    """`named` is False where any of the choices serves: a colour that is still open, any pole."""

    what: str
    label: str
    quantity: int
    choices: tuple[Choice, ...]
    named: bool = True
    size: str = ""

    def things(self, quantity: int) -> str:
        """1 pole, 2 poles; of hardware and cylinders, whose labels are one thing's name."""
        return f"{quantity:,} {self.label}" + ("" if quantity == 1 else "s")

    @property
    def all_of_them(self) -> str:
        """poles; sheets; 11 in balloons"""
        return self.label if self.what == "latex" else f"{self.label}s"

    @property
    def item_id(self) -> int | None:
        return self.choices[0].id if self.named and self.choices else None


@dataclass(frozen=True)
class StockLine:
    """A need beside what is free for it. `order_by` is the last day on which what is short can still be ordered to
    arrive before the work begins; `late` that it is past. Of what is free so many are on order, due by `due`."""

    need: StockNeed
    free: int
    short: int
    packs: int = 0
    pack_size: int = 0
    cost: Decimal = Decimal(0)
    buy_id: int | None = None
    order_by: date | None = None
    late: bool = False
    if_it_arrives: int = 0
    due: date | None = None

    @property
    def on_order_words(self) -> str:
        """20 of them if the order due Thu 3 December arrives; nothing where all that can be had is here."""
        return on_order_words(self.if_it_arrives, self.due) if self.if_it_arrives and self.due else ""

    @property
    def state(self) -> str:
        return "ok" if not self.short else "no" if self.late else "warn"


def needs_of_input(given: EstimateInput, catalogue: Catalogue, store: Store) -> list[StockNeed]:
    """Only counts the materials: cheap enough to ask before the work itself is reckoned."""
    pieces = [measured(piece, given.rates) for piece in given.pieces]
    air = standard_air(given.conditions.altitude_m, given.conditions.temperature_k)
    cylinders = gas_figures(pieces, air, given).cylinders
    return _needs(
        [
            (line.key, line.nominal_in, line.shape, line.quantity)
            for line in latex_lines(pieces, given.rates, dict(given.burst))
        ],
        [(line.key, line.quantity) for line in sheet_lines(pieces)],
        [(line.name, line.quantity) for line in hardware_lines(pieces)],
        cylinders,
        catalogue,
        store,
    )


def needs_of_result(result: dict[str, Any], catalogue: Catalogue, store: Store) -> list[StockNeed]:
    return _needs(
        [(line["key"], line["nominal_in"], line["shape"], line["quantity"]) for line in result["latex"]],
        [(line["key"], line["quantity"]) for line in result["sheets"]],
        [(line["name"], line["quantity"]) for line in result["hardware"]],
        result["gas"]["cylinders"],
        catalogue,
        store,
    )


def _needs(
    latex: Iterable[tuple[int | None, float, str, int]],
    sheets: Iterable[tuple[int | None, int]],
    hardware: Iterable[tuple[str, int]],
    cylinders: int,
    catalogue: Catalogue,
    store: Store,
) -> list[StockNeed]:
    found = [_sheet_need(key, quantity, catalogue) for key, quantity in sheets]
    found += _latex_needs(latex, catalogue)
    found += [_thing_need("hardware", name, quantity, store.things(name)) for name, quantity in hardware]
    if cylinders:
        found.append(_thing_need("cylinder", "helium cylinder", cylinders, store.cylinders))
    return found


def _sheet_need(key: int | None, quantity: int, catalogue: Catalogue) -> StockNeed:
    sheet = catalogue.sheet(key)
    return StockNeed("sheet", sheet.name if sheet else "sheet", quantity, _choices([sheet] if sheet else []))


def _latex_needs(lines: Iterable[tuple[int | None, float, str, int]], catalogue: Catalogue) -> list[StockNeed]:
    """Balloons of one stock item are one line, whatever they are sized to; open colours are one line a size."""
    amounts: dict[tuple[int | None, float, str], int] = defaultdict(int)
    for key, nominal_in, shape, quantity in lines:
        amounts[key, nominal_in, shape] += quantity
    return [_latex_need(*key, quantity, catalogue) for key, quantity in amounts.items()]


def _latex_need(key: int | None, nominal_in: float, shape: str, quantity: int, catalogue: Catalogue) -> StockNeed:
    size = f"{nominal_in:g} in" + ("" if shape == "round" else f" {shape}")
    item = catalogue.balloon(key)
    if item is not None:
        return StockNeed("latex", item.words, quantity, _choices([item]), size=size)
    alike = [i for i in catalogue.latex if i.active and i.shape == shape and i.nominal_in == nominal_in]
    return StockNeed("latex", f"{size} balloons", quantity, _choices(alike), named=False, size=size)


def _thing_need(what: str, name: str, quantity: int, things: Sequence[Thing]) -> StockNeed:
    return StockNeed(what, name, quantity, _choices(things), named=len(things) == 1)


def _choices(items: Sequence[SheetType | LatexItem | Thing]) -> tuple[Choice, ...]:
    return tuple(Choice(item.id, item.pack_size, item.pack_price) for item in items)


def stock_lines(
    needs: Sequence[StockNeed],
    span: StockSpan,
    *,
    now: datetime,
    exclude: Reservation | None = None,
    spoken_for: Mapping[int, int] | None = None,
) -> list[StockLine]:
    """`exclude` is the event's own reservation: what it holds is free for it. `spoken_for` is free and goes to others
    first, {item id: how many}."""
    ids = {choice.id for need in needs for choice in need.choices}
    left, ordered = free_and_on_order(ids, span.starts, span.ends, now=now, exclude=exclude)
    sure = left | {pk: one.sure for pk, one in ordered.items()}
    there, here = (_shared_out(needs, _without(known, spoken_for or {})) for known in (left, sure))
    short = [cheapest(need).id for at, need in enumerate(needs) if need.choices and need.quantity > there[at]]
    items = Item.objects.in_bulk(short) if short else {}
    lines = [_line(need, there[at], span, now, items) for at, need in enumerate(needs)]
    return [_with_orders(line, here[at], ordered) for at, line in enumerate(lines)] if ordered else lines


def _without(left: Mapping[int, int], spoken_for: Mapping[int, int]) -> dict[int, int]:
    return {pk: max(0, n - spoken_for.get(pk, 0)) for pk, n in left.items()}


def _shared_out(needs: Sequence[StockNeed], left: dict[int, int]) -> dict[int, int]:
    """{place of the need: how many there are for it}. Those that name their item come first; what they leave serves
    the open ones."""
    there = {}
    for at, need in sorted(enumerate(needs), key=lambda pair: not pair[1].named):
        there[at] = sum(left[choice.id] for choice in need.choices)
        _take(left, need)
    return there


def _with_orders(line: StockLine, here: int, ordered: Mapping[int, OnOrder]) -> StockLine:
    missing = max(0, min(line.need.quantity, line.free) - here)
    days = [ordered[choice.id].due for choice in line.need.choices if choice.id in ordered]
    return replace(line, if_it_arrives=missing, due=max(days)) if missing and days else line


def _take(left: dict[int, int], need: StockNeed, held: Mapping[int, int] | None = None) -> list[tuple[int, int]]:
    """From the choices in turn: what is held already, then the one that has most."""
    wanted, taken, held = need.quantity, [], held or {}
    order = sorted(need.choices, key=lambda choice: (-held.get(choice.id, 0), -left[choice.id], choice.id))
    for choice in order:
        amount = min(wanted, left[choice.id])
        if amount:
            taken.append((choice.id, amount))
            left[choice.id] -= amount
            wanted -= amount
    return taken


def cheapest(need: StockNeed) -> Choice:
    return min(need.choices, key=lambda choice: (choice.pack_price / choice.pack_size, choice.id))


def _line(need: StockNeed, there: int, span: StockSpan, now: datetime, items: Mapping[int, Item]) -> StockLine:
    short = max(0, need.quantity - there)
    if not short or not need.choices:
        return StockLine(need, there, short, late=bool(short))
    best = cheapest(need)
    # A lot counts from the start of its day, so it may arrive on the very day the work begins.
    (buy,) = packs_to_buy(
        [ShortLine(best.id, need.quantity, there, short)],
        needed_on=span.starts.astimezone(UTC).date(),
        today=now.astimezone(UTC).date(),
        items=items,
    )
    return StockLine(need, there, short, buy.packs, best.pack_size, buy.cost, buy.item_id, buy.order_by, buy.too_late)


def shortages_of(lines: Iterable[StockLine]) -> tuple[ToBuy, ...]:
    """What the estimate's upper price must buy. Cylinders are paid by their gas, which it charges already."""
    return tuple(
        ToBuy(
            key=line.need.item_id,
            quantity=line.short,
            pack_size=line.pack_size,
            pack_price=line.cost / line.packs,
            what=line.need.what,
            label=line.need.label,
        )
        for line in lines
        if line.short and line.packs and line.need.what != "cylinder"
    )


def hold_lines(
    needs: Sequence[StockNeed],
    span: StockSpan,
    *,
    now: datetime,
    exclude: Reservation | None = None,
    partly: bool,
    held: Mapping[int, int] | None = None,
) -> list[tuple[int, int]]:
    """What to reserve, item by item: everything that is needed, or with `partly` as much of it as is free. Balloons
    whose colour is open can't be reserved: nobody can say which. `held` is {item id: how many} of what is promised
    already, so that one pole is not changed for another that serves as well."""
    wanted = [need for need in needs if need.named or need.what != "latex"]
    ids = {choice.id for need in wanted for choice in need.choices}
    left = free(ids, span.starts, span.ends, now=now, exclude=exclude) if ids else {}
    amounts: dict[int, int] = defaultdict(int)
    for need in sorted(wanted, key=lambda need: not need.named):
        taken = _take(left, need, held)
        missing = need.quantity - sum(amount for _, amount in taken)
        if missing and need.choices and not partly:
            taken.append((need.choices[0].id, missing))
        for item_id, amount in taken:
            amounts[item_id] += amount
    return sorted(amounts.items())
