"""What is to be picked, what is out and what is over: rows for the pages of the store."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import Q
from django.utils import timezone

from decor.studio.models import User
from decor.studio.templatetags.desk import plural
from inventory import allocation, availability, ledger, places, whose
from inventory.allocation import LotShare
from inventory.ledger import Moved
from inventory.models import Bin, Item, Lot, Reservation, ReservationLine
from inventory.picks.early import NOBODY, Early, Taking, early_of
from inventory.picks.shorts import beyond_words, shorts_of
from inventory.shown import capital, day_words, short_day

AHEAD = timedelta(days=14)
"""How far ahead the store's work is shown (studio default)."""
CONFIRMED = Reservation.State.CONFIRMED


@dataclass(frozen=True)
class Work:
    """One reservation on the list of the store's work; rows are items."""

    reservation: Reservation
    words: str
    picked: int
    asked: int
    late: bool

    @property
    def all_picked(self) -> bool:
        return self.picked >= self.asked


@dataclass(frozen=True)
class StoreWork:
    """`over`: ended, something still out. `untold`: ended, and nobody said what was taken."""

    to_pick: list[Work]
    out: list[Work]
    over: list[Work]
    untold: list[Work]

    @property
    def any(self) -> bool:
        return bool(self.to_pick or self.out or self.over or self.untold)

    @property
    def next(self) -> tuple[str, Work] | None:
        """What to do first, by the page that it is done on."""
        for name, works in (("pick", self.to_pick), ("return", self.over), ("settle", self.untold)):
            if works:
                return name, works[0]
        return None


def store_due(work: StoreWork, now: datetime) -> list[str]:
    """What of it should not wait: lists that leave by tomorrow's end, and what is over."""
    by = timezone.localtime(now) + timedelta(days=1)
    soon = sum(timezone.localtime(one.reservation.starts).date() <= by.date() for one in work.to_pick)
    over = len(work.over) + len(work.untold)
    words = [plural(soon, "pick list,pick lists") + " for today and tomorrow"] if soon else []
    return words + ([f"{plural(over, 'event,events')} over and not counted back"] if over else [])


def store_work(user: User, now: datetime) -> StoreWork:
    """Confirmed reservations that are begun or begin soon."""
    soon = Q(starts__lte=now + AHEAD) | Q(begun=True)
    found = list(Reservation.objects.filter(soon, state=CONFIRMED).order_by("starts", "pk"))
    mine = whose.openable(user, [r.pk for r in found])
    found = [r for r in found if r.pk in mine]
    amounts = _amounts(found)
    work = StoreWork([], [], [], [])
    for reservation in found:
        picked, asked, out = amounts[reservation.pk]
        if not asked:
            continue
        over = reservation.ends <= now
        one = Work(reservation, _when(reservation, now), picked, asked, over)
        if over:
            (work.over if out else work.untold).append(one)
        else:
            (work.out if one.all_picked else work.to_pick).append(one)
    return work


def _amounts(reservations: Iterable[Reservation]) -> dict[int, tuple[int, int, int]]:
    """{reservation id: rows picked, rows asked for, pieces out}; a row is one item."""
    ids = [r.pk for r in reservations]
    lines = list(ReservationLine.objects.filter(reservation__in=ids, counts=True))
    gone = ledger.moved({line.item_id for line in lines}, ids) if lines else {}
    found = dict.fromkeys(ids, (0, 0, 0))
    for line in lines:
        moved = gone.get((line.reservation_id, line.item_id), Moved(0, 0, 0))
        picked, asked, out = found[line.reservation_id]
        done = moved.picked >= line.quantity
        found[line.reservation_id] = (picked + done, asked + 1, out + moved.out)
    return found


def _when(reservation: Reservation, now: datetime) -> str:
    if reservation.ends <= now:
        return f"was due back {day_words(reservation.ends)}"
    if reservation.starts <= now:
        return f"out until {day_words(reservation.ends)}"
    return f"from {day_words(reservation.starts)}, {timezone.localtime(reservation.starts):%H:%M}"


@dataclass(frozen=True)
class PickRow:
    """`here` lie in the store by the ledger, `lots` says from which deliveries to take them, `apart` that a colour
    comes from more than one. `short` names the promises that lack it, `early` whom it leaves without who takes it
    before its time."""

    item: Item
    asked: int
    picked: int
    here: int
    rgb: str
    lots: str
    apart: bool
    packs: str
    short: str
    early: Early = NOBODY

    @property
    def bin(self) -> str:
        return self.item.bin

    @property
    def state(self) -> str:
        if self.picked >= self.asked:
            return "done"
        return "open" if self.here else "none"

    @property
    def words(self) -> str:
        return capital(self.item.name)


@dataclass(frozen=True)
class PickList:
    """`labels` are the numbers of bins by their names in small letters, as their labels carry them; `beyond` says what
    the event needs and is not on the list."""

    reservation: Reservation
    bins: list[tuple[str, list[PickRow]]]
    labels: dict[str, int]
    beyond: str = ""

    @property
    def rows(self) -> list[PickRow]:
        return [row for _, rows in self.bins for row in rows]

    @property
    def next(self) -> PickRow | None:
        return next((row for row in self.rows if row.state == "open"), None)

    @property
    def picked(self) -> int:
        return sum(row.state == "done" for row in self.rows)


def pick_list(reservation: Reservation, user: User, now: datetime) -> PickList:
    """In the order in which one walks through the store."""
    lines = list(reservation.lines.filter(counts=True).select_related("item__latex"))
    ids, beyond = {line.item_id for line in lines}, beyond_words(reservation, now)
    if not ids:
        return PickList(reservation, [], {}, beyond)
    stock = availability.stock_of(ids, now=now, starts=now)
    gone = ledger.moved(ids, [reservation.pk])
    shares = allocation.lots_for(reservation=reservation, now=now, stock=stock, lines=lines)
    lots, shorts = allocation.lots_named(shares), shorts_of(stock, user, now)
    begun = allocation.lots_picked(reservation) if gone else {}
    picked = {item: moved.picked for (_, item), moved in gone.items()}
    takings = (Taking(line, stock[line.item_id], shares.get(line.item_id, ()), now) for line in lines)
    early = early_of(takings, picked, user)
    rows = []
    for line in lines:
        here, short = stock[line.item_id].in_store, shorts.get(line.item_id, "")
        mine, taken = shares.get(line.item_id, []), begun.get(line.item_id, set())
        row = _pick_row(line, picked.get(line.item_id, 0), here, mine, lots, taken, short)
        rows.append(replace(row, early=early.get(line.item_id, NOBODY)))
    numbers = list(Bin.objects.values_list("name", "position", "pk"))
    order = {name.casefold(): (position, places.natural(name)) for name, position, _ in numbers}
    rows.sort(key=lambda row: (places.place_on_the_way(row.bin, order), row.words))
    bins: dict[str, list[PickRow]] = {}
    for row in rows:
        bins.setdefault(row.bin, []).append(row)
    return PickList(reservation, list(bins.items()), {name.casefold(): pk for name, _, pk in numbers}, beyond)


def _pick_row(
    line: ReservationLine,
    picked: int,
    here: int,
    shares: list[LotShare],
    lots: dict[int, Lot],
    taken: set[int],
    short: str,
) -> PickRow:
    """`taken` are the lots of what is picked already: what is added from another may differ from it in shade."""
    item, latex = line.item, line.item.kind == Item.Kind.LATEX
    return PickRow(
        item=item,
        asked=line.quantity,
        picked=picked,
        here=here,
        rgb=item.latex.rgb if latex else "",
        lots=lots_words(shares, lots) if latex or len(shares) > 1 else "",
        apart=latex and bool(shares) and len(taken | {share.lot_id for share in shares}) > 1,
        packs=packs_words(line.quantity - picked, item.pack_size),
        short=short,
    )


def packs_words(pieces: int, pack_size: int) -> str:
    """3 packs of 100 and 40 more; empty where pieces say it all."""
    packs, more = divmod(max(pieces, 0), pack_size)
    if pack_size == 1 or not packs:
        return ""
    words = f"{plural(packs, 'pack,packs')} of {pack_size:,}"
    return f"{words} and {more:,} more" if more else words


def lots_words(shares: list[LotShare], lots: dict[int, Lot]) -> str:
    """from the lot of 3 May; 60 from the lot of 3 May, batch H-0417; 240 from the lot of 2 June"""
    parts = []
    for share in shares:
        lot = lots[share.lot_id]
        name = f"the lot of {short_day(lot.arrives_on)}" + (f", batch {lot.batch}" if lot.batch else "")
        if lot.uses_left is not None:
            name = f"those with {plural(lot.uses_left, 'use,uses')} left"
        parts.append(f"{share.quantity:,} from {name}" if len(shares) > 1 else f"from {name}")
    return "; ".join(parts)


def codes_of(found: PickList) -> dict[str, dict[str, int]]:
    """What a scanned or typed code jumps to without asking the studio: {"bins": {a bin's name in small letters, or
    its label's number as "b/7": the item whose row comes first}, "items": {"i/9": item}}."""
    bins: dict[str, int] = {}
    items = {}
    for row in found.rows:
        items[f"i/{row.item.pk}"] = row.item.pk
        name = row.bin.casefold()
        if name and name not in bins:
            bins[name] = row.item.pk
            if name in found.labels:
                bins[f"b/{found.labels[name]}"] = row.item.pk
    return {"bins": bins, "items": items}


@dataclass(frozen=True)
class BinRow:
    """What some open pick list still wants from a bin."""

    reservation: Reservation
    item: Item
    rest: int

    @property
    def words(self) -> str:
        return capital(self.item.name)


def open_rows_of_bin(name: str, user: User, now: datetime) -> list[BinRow]:
    """For whoever stands before the bin: what is to be taken out of it in the coming days, the next event first."""
    lines = ReservationLine.objects.filter(
        Q(reservation__begun=True) | Q(starts__lte=now + AHEAD),
        counts=True,
        ends__gt=now,
        reservation__state=CONFIRMED,
        item__bin__iexact=name,
    ).select_related("reservation", "item")
    found = list(lines.order_by("starts", "item__name"))
    mine = whose.openable(user, [line.reservation_id for line in found])
    gone = ledger.moved({line.item_id for line in found}, mine) if mine else {}
    rows = []
    for line in found:
        moved = gone.get((line.reservation_id, line.item_id), Moved(0, 0, 0))
        if line.reservation_id in mine and line.quantity > moved.picked:
            rows.append(BinRow(line.reservation, line.item, line.quantity - moved.picked))
    return rows
