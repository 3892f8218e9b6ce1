"""Stock in words, as its pages show it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from decor.studio.templatetags import desk
from inventory import availability, links
from inventory.availability import Detail, Stock
from inventory.models import Item, Reservation, ReservationLine
from inventory.stocking import Broken

KIND_WORDS = {
    Item.Kind.LATEX: "Balloons",
    Item.Kind.SHEET: "Sheets",
    Item.Kind.HARDWARE: "Hardware",
    Item.Kind.CYLINDER: "Cylinders",
    Item.Kind.FOIL: "Foil shapes",
}
SMALL_THINGS = {"ribbon", "line", "weight", "net"}
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


def stock_lines(
    items: list[Item],
    now: datetime,
    span: tuple[datetime, datetime] | None = None,
    stock: dict[int, Stock] | None = None,
) -> list[StockLine]:
    """What is free is told for the span, without one for now; on hand is what lies in the store now. `stock` is what
    `stock_of` gave from now on."""
    starts, ends = span or (now, now + timedelta(days=1))
    ids = [i.pk for i in items]
    stock = availability.stock_of(ids, now=now, starts=min(starts, now)) if stock is None else stock
    details = availability.free_detail(ids, starts, ends, now=now, stock=stock)
    return [_line(item, details[item.pk], _out(stock[item.pk])) for item in items]


def _out(stock: Stock) -> int:
    """Of what comes back all that is ours is counted; what does not lie in the store of it is with events."""
    return sum(s.quantity for s in stock.supplies if not s.expected) - stock.in_store if stock.returnable else 0


def _line(item: Item, detail: Detail, out: int) -> StockLine:
    group, words, rgb = KIND_WORDS[item.kind], capital(item.name), ""
    if item.kind == Item.Kind.LATEX:
        shape = "" if item.latex.shape == "round" else f", {item.latex.shape}"
        group = f"Balloons, {item.latex.nominal_in.normalize():f} in{shape}"
        finish = "" if item.latex.finish == "plain" else f", {item.latex.finish}"
        words, rgb = capital(item.latex.colour) + finish, item.latex.rgb
    elif item.kind == Item.Kind.HARDWARE and item.hardware.purpose in SMALL_THINGS:
        group = "Ribbon, line, weights and nets"
    small = f"{detail.in_store:,} on hand" + (f", {out:,} out" if out else "")
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
class Promise:
    label: str
    words: str
    quantity: int
    chip: Chip | None
    href: str = ""


def promise_lines(lines: list[ReservationLine], lacking: dict[int, int]) -> list[Promise]:
    pages = links.pages_of(line.reservation_id for line in lines)
    return [
        Promise(
            label=line.reservation.label,
            words=span_words(line.starts, line.ends),
            quantity=line.quantity,
            chip=_promise_chip(line.reservation, lacking.get(line.pk, 0)),
            href=pages.get(line.reservation_id, ""),
        )
        for line in lines
    ]


def _promise_chip(reservation: Reservation, lacking: int) -> Chip | None:
    if lacking:
        return "warn", f"{lacking:,} short"
    if reservation.state == Reservation.State.HOLD and reservation.expires:
        return "wait", f"Hold to {short_day(reservation.expires)}"
    return None


def broken_lines(promises: Iterable[Broken]) -> list[Promise]:
    return [
        Promise(p.label, span_words(p.starts, p.ends), p.short, ("wait", "On hold") if p.on_hold else None)
        for p in promises
    ]
