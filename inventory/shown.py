"""Stock in words, as its pages show it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.urls import reverse
from django.utils import timezone

from decor.studio.models import Studio
from decor.studio.templatetags import desk
from inventory import availability, stocking
from inventory.availability import Detail, Stock
from inventory.curve import Curve, curve_of
from inventory.facts import facts_of
from inventory.models import Item, Lot, Reservation, ReservationLine
from inventory.services import ShortLine, ToBuy, packs_to_buy
from inventory.stocking import Broken

WEEKS = 8
KIND_WORDS = {
    Item.Kind.LATEX: "Balloons",
    Item.Kind.SHEET: "Sheets",
    Item.Kind.HARDWARE: "Hardware",
    Item.Kind.CYLINDER: "Cylinders",
}
KIND_LINKS = [("", "All"), *KIND_WORDS.items()]


def capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def day_words(value: date | datetime) -> str:
    """The day in the studio's zone."""
    return desk.day(timezone.localtime(value) if isinstance(value, datetime) else value)


def short_day(value: date | datetime) -> str:
    value = timezone.localtime(value) if isinstance(value, datetime) else value
    return f"{value.day} {value:%b}" + (f" {value:%Y}" if value.year != timezone.localdate().year else "")


def span_words(starts: datetime, ends: datetime) -> str:
    first, last = day_words(starts), day_words(ends)
    return first if first == last else f"{first} to {last}"


Chip = tuple[str, str]


def chip_of(detail: Detail) -> Chip | None:
    """The one most urgent open matter of an item."""
    if detail.short:
        return "warn", f"{detail.short:,} short"
    if detail.overdue:
        return "no", "Order late"
    if detail.due:
        return "wait", f"Due {short_day(detail.due)}"
    return None


@dataclass(frozen=True)
class StockLine:
    item: Item
    group: str
    words: str
    small: str
    rgb: str
    detail: Detail
    chip: Chip | None


def stock_lines(items: list[Item], now: datetime) -> list[StockLine]:
    details = availability.free_detail([i.pk for i in items], now, now + timedelta(days=1), now=now)
    return [_line(item, details[item.pk]) for item in items]


def _line(item: Item, detail: Detail) -> StockLine:
    group, words, rgb = KIND_WORDS[item.kind], capital(item.name), ""
    if item.kind == Item.Kind.LATEX:
        shape = "" if item.latex.shape == "round" else f", {item.latex.shape}"
        group = f"Balloons, {item.latex.nominal_in.normalize():f} in{shape}"
        finish = "" if item.latex.finish == "plain" else f", {item.latex.finish}"
        words, rgb = capital(item.latex.colour) + finish, item.latex.rgb
    small = f"{detail.on_hand:,} on hand"
    if detail.short_from:
        small += f", short from {short_day(detail.short_from)}"
    return StockLine(item, group, words, small, rgb, detail, chip_of(detail))


def _group_order(line: StockLine) -> tuple:
    kind = list(KIND_WORDS).index(line.item.kind)
    size = line.item.latex.nominal_in if line.item.kind == Item.Kind.LATEX else 0
    return kind, size, line.group, line.words.lower()


def grouped(lines: list[StockLine]) -> list[tuple[str, list[StockLine]]]:
    groups: dict[str, list[StockLine]] = {}
    for line in sorted(lines, key=_group_order):
        groups.setdefault(line.group, []).append(line)
    return list(groups.items())


def summary(lines: list[StockLine]) -> list[Chip]:
    """What of all this needs somebody."""
    short = sum(1 for line in lines if line.detail.short)
    late = sum(1 for line in lines if line.detail.overdue)
    chips = []
    if short:
        chips.append(("warn", desk.plural(short, "item short,items short")))
    if late:
        chips.append(("no", desk.plural(late, "order late,orders late")))
    if lines and not chips:
        chips.append(("ok", "Every promise is covered"))
    return chips


@dataclass(frozen=True)
class LotLine:
    lot: Lot
    left: int
    words: str
    chip: Chip | None
    expected: bool


@dataclass(frozen=True)
class Promise:
    label: str
    words: str
    quantity: int
    chip: Chip | None


@dataclass(frozen=True)
class ItemPage:
    detail: Detail
    verdict: str
    verdict_kind: str
    act: str
    act_href: str
    to_buy: ToBuy | None
    expected_words: str
    curve: Curve
    promises: list[Promise]
    lots: list[LotLine]
    old_lots: list[LotLine]
    facts: list[tuple[str, str]]
    rgb: str


def item_page(item: Item, now: datetime, studio: Studio) -> ItemPage:
    # Read once: what is free, left, promised and lacking are all told from the same lots and lines.
    stock = availability.stock_of([item.pk], now=now, starts=now)
    detail = availability.free_detail([item.pk], now, now + timedelta(days=1), now=now, stock=stock)[item.pk]
    to_buy = _to_buy(item, detail)
    act, href = _act(item, detail, to_buy)
    lots = lot_lines(stock[item.pk], now)
    expected = [x for x in lots if x.expected]
    promised = stocking.live_lines(item=item, now=now)
    return ItemPage(
        detail=detail,
        verdict=_verdict(item, detail, to_buy),
        verdict_kind="warn" if detail.short else "no" if detail.overdue else "",
        act=act,
        act_href=href,
        to_buy=to_buy,
        expected_words=", ".join(f"{x.lot.quantity:,} on {day_words(x.lot.arrives_on)}" for x in expected),
        curve=curve_of(stock[item.pk], now, weeks=WEEKS),
        promises=promise_lines(promised, stocking.lacking_of(stock[item.pk], now)),
        lots=[x for x in lots if x.left],
        old_lots=[x for x in lots if not x.left],
        facts=facts_of(item, studio),
        rgb=item.latex.rgb if item.kind == Item.Kind.LATEX else "",
    )


def _to_buy(item: Item, detail: Detail) -> ToBuy | None:
    if not detail.short or detail.short_from is None:
        return None
    line = ShortLine(item.pk, detail.short, 0, detail.short)
    needed = timezone.localdate(detail.short_from)
    return packs_to_buy([line], needed_on=needed, today=timezone.localdate())[0]


def packs_words(to_buy: ToBuy) -> str:
    if to_buy.packs == to_buy.quantity:
        return f"{to_buy.packs:,}"
    return desk.plural(to_buy.packs, "pack,packs")


def _verdict(item: Item, detail: Detail, to_buy: ToBuy | None) -> str:
    if to_buy and detail.short_from:
        words = f"{detail.short:,} short from {day_words(detail.short_from)}."
        if to_buy.too_late:
            days = desk.plural(item.lead_days, "day,days")
            return f"{words} An order takes {days}, so it would come too late: borrow, swap or ask for speed."
        return f"{words} Order {packs_words(to_buy)} by {day_words(to_buy.order_by)}."
    if detail.overdue:
        return f"An order that was due on {day_words(detail.overdue)} is not here, so it counts for nothing."
    if not detail.on_hand and not detail.expected and not detail.due:
        return "None here and none on order."
    return ""


def _act(item: Item, detail: Detail, to_buy: ToBuy | None) -> tuple[str, str]:
    new = reverse("inventory:lot-new", args=[item.pk])
    if not item.active:
        return "", ""
    if to_buy:
        name = f" of {item.latex.colour}" if item.kind == Item.Kind.LATEX else ""
        return f"Order {packs_words(to_buy)}{name}", f"{new}?order=1&quantity={to_buy.quantity}"
    return "Add a lot", new


def promise_lines(lines: list[ReservationLine], lacking: dict[int, int]) -> list[Promise]:
    return [
        Promise(
            label=line.reservation.label,
            words=span_words(line.starts, line.ends),
            quantity=line.quantity,
            chip=_promise_chip(line.reservation, lacking.get(line.pk, 0)),
        )
        for line in lines
    ]


def _promise_chip(reservation: Reservation, lacking: int) -> Chip | None:
    if lacking:
        return "warn", f"{lacking:,} short"
    if reservation.state == Reservation.State.HOLD and reservation.expires:
        return "wait", f"Hold to {short_day(reservation.expires)}"
    return None


def lot_lines(stock: Stock, now: datetime) -> list[LotLine]:
    """What is usable first, then what is on order, then what is used up, newest first."""
    left = {s.lot_id: n for s, n in zip(stock.supplies, stock.left(now), strict=True)}
    lots = Lot.objects.filter(item_id=stock.item_id).order_by("received", "-arrives_on", "pk")
    return [_lot_line(lot, left.get(lot.pk, lot.quantity), now) for lot in lots]


def _lot_line(lot: Lot, left: int, now: datetime) -> LotLine:
    today = availability.utc_day(now)
    overdue = not lot.received and lot.arrives_on < today
    chip: Chip | None = None
    if overdue:
        chip = "no", "Late"
    elif not lot.received:
        chip = "wait", "On order"
    elif lot.use_by and lot.use_by < today:
        chip = "no", "Past use"
    words = f"{'came' if lot.received else 'was due' if overdue else 'due'} {day_words(lot.arrives_on)}"
    if left != lot.quantity:
        words = f"of {lot.quantity:,}, {words}"
    if lot.use_by:
        words += f", use by {short_day(lot.use_by)}"
    return LotLine(lot, left, words, chip, expected=not lot.received)


def broken_lines(promises: Iterable[Broken]) -> list[Promise]:
    return [
        Promise(p.label, span_words(p.starts, p.ends), p.short, ("wait", "On hold") if p.on_hold else None)
        for p in promises
    ]
