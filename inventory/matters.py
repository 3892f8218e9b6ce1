"""What in the store needs somebody, each with the one thing to do about it, the most urgent first."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from django.db.models import Q, Sum
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import Studio
from decor.studio.templatetags.desk import clock, plural
from inventory import availability, links, overview, stocking, unpromised
from inventory.availability import Stock
from inventory.balance import NEVER
from inventory.buying import below_level
from inventory.gap_words import name_of, rgb_of
from inventory.models import Item, Lot, Movement, Order, Reservation, ReservationLine
from inventory.orders import mailing
from inventory.shown import Chip, day_words, short_day, span_words
from inventory.unpromised import Need, Weighed

LAPSING = timedelta(days=2)
KINDS = ("latex", "sheet", "hardware", "cylinder", "foil")

SECTIONS = {
    "near": "Short for an event that is near",
    "letter": "Orders that did not reach the supplier",
    "order": "Orders that did not come",
    "hold": "Holds that lapse",
    "back": "Not back yet",
    "short": "Short",
    "free": "Free now, and not promised yet",
    "over": "Over, and not counted back",
    "use-by": "Use by soon",
    "level": "Below its level",
}
PRESSING = {
    "near": "short for a near event,short for near events",
    "letter": "order not sent,orders not sent",
    "order": "order late,orders late",
}
"""What is told on Today beside the lists to pick and to count back and the holds; the rest waits in the store."""


@dataclass(frozen=True)
class Matter:
    """`kind` is a key of SECTIONS; `href` leads to where `do` is done; `when` sorts within its kind."""

    kind: str
    says: str
    small: str
    chip: Chip
    do: str
    href: str
    when: datetime
    rgb: str = ""


@dataclass(frozen=True)
class Section:
    title: str
    matters: tuple[Matter, ...]


class Ahead(NamedTuple):
    """Until when an event is near, and until when what must be used is told; both are the studio's own settings."""

    near: datetime
    use_by: datetime


def _ahead(studio: Studio | None, now: datetime) -> Ahead:
    studio = studio or Studio.objects.order_by("pk").first() or Studio()
    return Ahead(now + timedelta(days=studio.near_days), now + timedelta(days=studio.use_by_days))


def matters(
    *,
    now: datetime,
    items: Iterable[Item] | None = None,
    stock: Mapping[int, Stock] | None = None,
    wanted: list[Need] | None = None,
    studio: Studio | None = None,
) -> list[Matter]:
    """In a score of queries however much there is. `items` are all active ones with their kinds' own data, `wanted` is
    what `unpromised.needs` gave, and `stock` what `stock_of` or `overview.standing` gave from `now` on for the items,
    with those that are wanted named, where they are at hand."""
    ahead = _ahead(studio, now)
    rows = Item.objects.filter(active=True).select_related(*KINDS) if items is None else items
    known = {item.pk: item for item in rows}
    wanted = unpromised.needs(now=now) if wanted is None else wanted
    if stock is None:
        stock = overview.standing(known, now=now, named={need.item_id for need in wanted})
    found = [
        *_short(known, stock, now, ahead),
        *_beyond(unpromised.weighed(now=now, asked=wanted, stock=stock), ahead),
        *_unsent(),
        *_late_orders(now),
        *_late_lots(now),
        *_holds(now),
        *_over(now),
        *_use_by(known, stock, now, ahead),
        *_levels(known, stock, now),
    ]
    order = list(SECTIONS)
    return sorted(found, key=lambda m: (order.index(m.kind), m.when, m.says))


def pressing(*, now: datetime, studio: Studio | None = None, weighed: Iterable[Weighed] | None = None) -> list[Matter]:
    """Only the kinds of PRESSING, for a page that must not read the whole store: what is short is looked for among the
    items of events that are near, and no promise after these is read but those of what somebody waits for: `weighed`,
    where it is at hand."""
    ahead = _ahead(studio, now)
    soon = ahead.near
    near = ReservationLine.objects.filter(availability.live(now), starts__lt=soon, ends__gt=now, item__active=True)
    ids = set(near.values_list("item_id", flat=True))
    items = Item.objects.select_related(*KINDS).in_bulk(ids)
    stock = availability.stock_of(ids, now=now, starts=now, ends=soon, before=soon) if ids else {}
    beyond = _beyond(unpromised.weighed(now=now) if weighed is None else weighed, ahead)
    found = [*_short(items, stock, now, ahead), *beyond, *_unsent(), *_late_orders(now), *_late_lots(now)]
    return [one for one in found if one.kind in PRESSING]


def sections(found: Iterable[Matter]) -> list[Section]:
    found = list(found)
    told = [(title, tuple(m for m in found if m.kind == kind)) for kind, title in SECTIONS.items()]
    return [Section(title, of_it) for title, of_it in told if of_it]


def _short(items: Mapping[int, Item], stock: Mapping[int, Stock], now: datetime, ahead: Ahead) -> list[Matter]:
    """Promises that lack something: those of events that are near or already picked for, and all others by item."""
    lacking = {line: n for pk in items if pk in stock for line, n in stocking.lacking_of(stock[pk], now).items()}
    rows = ReservationLine.objects.filter(pk__in=lacking).select_related("reservation").order_by("starts", "pk")
    lines = list(rows)
    pages = links.pages_of({line.reservation_id for line in lines})
    near = [line for line in lines if line.reservation.begun or line.starts < ahead.near]
    found = [_near(line, items[line.item_id], lacking[line.pk], pages) for line in near]
    later: dict[int, list[ReservationLine]] = {}
    for line in lines:
        if line not in near:
            later.setdefault(line.item_id, []).append(line)
    return found + [_later(items[pk], of_it, lacking) for pk, of_it in later.items()]


def _near(line: ReservationLine, item: Item, lacking: int, pages: Mapping[int, str]) -> Matter:
    says = f"{name_of(item)}: {lacking:,} short for {line.reservation.label}"
    picked = "picked for already; " if line.reservation.begun else ""
    href = pages.get(line.reservation_id, "") or reverse("inventory:item", args=[item.pk])
    small = picked + span_words(line.starts, line.ends)
    return Matter("near", says, small, ("no", "Near"), "See what would help", href, line.starts, rgb_of(item))


def _later(item: Item, lines: list[ReservationLine], lacking: Mapping[int, int]) -> Matter:
    pieces, first = [lacking[line.pk] for line in lines], lines[0]
    # Two events that share one shortage of a returnable lack the same pieces.
    short = max(pieces) if item.returnable else sum(pieces)
    more = f" and {plural(len(lines) - 1, 'more event,more events')}" if len(lines) > 1 else ""
    says, small = f"{name_of(item)}: {short:,} short", f"{first.reservation.label}, {day_words(first.starts)}{more}"
    address = reverse("inventory:buy")
    return Matter("short", says, small, ("warn", "Short"), "See what to buy", address, first.starts, rgb_of(item))


def _beyond(weighed: Iterable[Weighed], ahead: Ahead) -> list[Matter]:
    """What events need and could not be promised, an event a line."""
    by_event: dict[tuple[int, str, str], list[Weighed]] = {}
    for one in weighed:
        by_event.setdefault(one.need.event, []).append(one)
    return [_waits(told, ahead) for told in by_event.values()]


def _waits(told: list[Weighed], ahead: Ahead) -> Matter:
    first = told[0].need
    lacks = [f"{one.lacks:,} of {one.need.name}" for one in told if one.lacks]
    if not lacks:
        free = _listed([f"{one.free:,} of {one.need.name}" for one in told])
        small = f"{free}, and nothing is held yet" if first.bare else f"{free} more than is promised to it"
        return Matter("free", first.label, small, ("wait", "Free now"), "Promise it", first.href, first.starts)
    kept = "nothing is held for it yet" if first.bare else "what was promised before is kept"
    small = f"lacks {_listed(lacks)}; {kept}"
    near = first.starts < ahead.near
    kind, chip = ("near", ("no", "Near")) if near else ("short", ("warn", "Short"))
    return Matter(kind, first.label, small, chip, "See what would help", first.href, first.starts)


def _listed(things: list[str]) -> str:
    more = f" and {plural(len(things) - 3, 'other thing,other things')}" if len(things) > 3 else ""
    return "; ".join(things[:3]) + more


def _unsent() -> list[Matter]:
    return [
        Matter(
            "letter",
            f"{order.number} to {letter.to}",
            "the e-mail did not go out, so nobody there knows of it",
            ("no", "Not sent"),
            "Send it once more",
            reverse("inventory:order", args=[order.pk]),
            letter.created,
        )
        for order, letter in mailing.unsent()
    ]


def _late_orders(now: datetime) -> list[Matter]:
    rows = Order.objects.filter(state=Order.State.SENT, due_on__lt=availability.utc_day(now))
    return [
        Matter(
            "order",
            f"{order.number} from {order.supplier or 'no supplier named'}",
            f"was due on {day_words(order.due_on)}, so nothing of it counts",
            ("no", "Late"),
            "Give it a new day",
            reverse("inventory:order-due", args=[order.pk]),
            availability.day_start(order.due_on),
        )
        for order in rows
        if order.due_on
    ]


def _late_lots(now: datetime) -> list[Matter]:
    """What was noted as on order without an order of ours."""
    late = Lot.objects.filter(received=False, order_line=None, arrives_on__lt=availability.utc_day(now))
    return [
        Matter(
            "order",
            f"{name_of(lot.item)}: {plural(lot.quantity, 'piece,pieces')} on order",
            f"were due on {day_words(lot.arrives_on)}, so they don't count",
            ("no", "Late"),
            "Give it a new day",
            reverse("inventory:lot-change", args=[lot.pk]),
            availability.day_start(lot.arrives_on),
        )
        for lot in late.select_related("item")
    ]


def _holds(now: datetime) -> list[Matter]:
    soon = Reservation.objects.filter(state=Reservation.State.HOLD, expires__gt=now, expires__lte=now + LAPSING)
    rows = list(soon.order_by("expires"))
    pages = links.pages_of(row.pk for row in rows)
    found = []
    for row in rows:
        assert row.expires is not None
        at = timezone.localtime(row.expires)
        chip = ("wait", f"To {clock(at)}" if at.date() == timezone.localdate(now) else f"To {at:%a} {clock(at)}")
        small = f"on hold for {span_words(row.starts, row.ends)}; lapses {day_words(row.expires)}, {clock(at)}"
        href = pages[row.pk]
        found.append(Matter("hold", row.label, small, chip, "Confirm it or let go", href, row.expires))
    return found


def _over(now: datetime) -> list[Matter]:
    """Events that are over and not counted back: those with returnables out first, for others may need them."""
    live = Q(state=Reservation.State.CONFIRMED) | Q(state=Reservation.State.HOLD, begun=True)
    rows = list(Reservation.objects.filter(live, ends__lte=now, lines__counts=True).distinct().order_by("ends"))
    away = Movement.objects.filter(reservation__in=[row.pk for row in rows], item__returnable=True)
    out = dict(away.order_by().values_list("reservation_id").annotate(pieces=Sum("out")))
    return [_one_over(row, out.get(row.pk, 0)) for row in rows]


def _one_over(row: Reservation, out: int) -> Matter:
    href = reverse("inventory:return", args=[row.pk])
    if out:
        small = f"{plural(out, 'thing is,things are')} out, and free again only once counted back"
        chip: Chip = ("warn", f"Since {short_day(row.ends)}")
        return Matter("back", row.label, f"{small}; was over {day_words(row.ends)}", chip, "Count back", href, row.ends)
    small = f"over since {day_words(row.ends)}: what was used, what burst?"
    return Matter("over", row.label, small, ("none", "Not counted"), "Say what was used", href, row.ends)


def _use_by(items: Mapping[int, Item], stock: Mapping[int, Stock], now: datetime, ahead: Ahead) -> list[Matter]:
    found = []
    for pk, item in items.items():
        for one in stock[pk].supplies if pk in stock else ():
            if one.expected or one.spoils == NEVER or one.spoils > ahead.use_by:
                continue
            past, last = one.spoils <= now, one.spoils - timedelta(days=1)
            day = f"{last.date().day} {last:%B} {last:%Y}"
            chip: Chip = ("no", "Past use") if past else ("wait", f"By {short_day(last.date())}")
            says = f"{name_of(item)}: {plural(one.quantity, 'piece,pieces')}"
            small = f"had to be used by {day}, and are no longer promised" if past else f"to be used by {day}"
            do, href = "See its lots", reverse("inventory:item", args=[pk])
            if past:
                do, href = "Take them away", reverse("inventory:lot-remove", args=[one.lot_id])
            found.append(Matter("use-by", says, small, chip, do, href, one.spoils, rgb_of(item)))
    return found


def _levels(items: Mapping[int, Item], stock: Mapping[int, Stock], now: datetime) -> list[Matter]:
    buy = reverse("inventory:buy")
    return [
        Matter(
            "level",
            name_of(item),
            f"{there:,} {'are yours' if item.returnable else 'free'}, to be ordered again below {item.reorder_level:,}",
            ("warn", "Low"),
            "See what to buy",
            buy,
            now,
            rgb_of(item),
        )
        for item, there in below_level(stock, [item for pk, item in items.items() if pk in stock], now)
    ]


def pressing_words(found: Iterable[Matter]) -> str:
    """2 short for near events, 1 order late; "" where nothing presses."""
    counts = Counter(one.kind for one in found)
    return ", ".join(plural(counts[kind], words) for kind, words in PRESSING.items() if counts[kind])
