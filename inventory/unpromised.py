"""What events need beyond what is promised to them. The store knows nobody's events: whoever does tells it through
`ask`, so that the buy list names all that is to be bought.

What of it is lacking is never kept, for it changes with every delivery and every promise: `weighed` says it anew, and
every page that tells of it asks there."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple

from django.utils import timezone
from django.utils.module_loading import import_string

from inventory import availability
from inventory.availability import Stock
from inventory.balance import Demand


class Need(NamedTuple):
    """`quantity` is beyond the promise, whose number is `promise`; nought for an event that has none. `waits` tells
    that it ought to be promised: the event was told so, or the client said yes. `bare`: of all that it needs nothing
    was free, so that its promise holds nothing yet."""

    item_id: int
    quantity: int
    starts: datetime
    ends: datetime
    label: str
    href: str = ""
    on_hold: bool = False
    promise: int = 0
    name: str = ""
    waits: bool = True
    bare: bool = False

    @property
    def event(self) -> tuple[int, str, str]:
        return self.promise, self.label, self.href


@dataclass(frozen=True)
class Weighed:
    """What of a need is lacking now. `spoken_for` is free, but for another event that waits for it as well."""

    need: Need
    lacks: int
    spoken_for: int = 0

    @property
    def free(self) -> int:
        return self.need.quantity - self.lacks


Tell = Callable[[], list[Need]]

_ASKED: list[str] = []
_ASKED_OPEN: list[str] = []


def ask(tell: str) -> None:
    """The dotted path of a function without arguments that gives the needs of events that wait for them."""
    if tell not in _ASKED:
        _ASKED.append(tell)


def ask_open(tell: str) -> None:
    """The same for events to which nothing is promised, and perhaps never will be."""
    if tell not in _ASKED_OPEN:
        _ASKED_OPEN.append(tell)


def needs(*, now: datetime, with_open: bool = False) -> list[Need]:
    """Of events that are not over: first those that wait, the nearest event first."""
    found: list[Need] = []
    for path in [*_ASKED, *(_ASKED_OPEN if with_open else [])]:
        tell: Tell = import_string(path)
        found += tell()
    coming = [one for one in found if one.ends > now and one.quantity > 0]
    return sorted(coming, key=lambda one: (not one.waits, one.starts, one.event, one.item_id))


def weighed(
    *, now: datetime, asked: Iterable[Need] | None = None, stock: Mapping[int, Stock] | None = None
) -> list[Weighed]:
    """All that is asked for, all events' by default, beside what is free: what every promise has is left to it. `stock`
    is what `stock_of` gave from `now` on without an end, where it is at hand; items that are not in it are left out."""
    wanted = needs(now=now) if asked is None else list(asked)
    if stock is None:
        ids = {need.item_id for need in wanted}
        stock = availability.stock_of(ids, now=now, starts=now) if ids else {}
    return weigh(stock, [need for need in wanted if need.item_id in stock], now)


def weigh(stock: Mapping[int, Stock], wanted: Iterable[Need], now: datetime) -> list[Weighed]:
    """As the store will give it out when it follows: in the order given, each event that can have all that it lacks has
    it; then the others have what is left, in the same order. So no figure changes when the store has followed."""
    events: dict[tuple[int, str, str], list[Need]] = {}
    for need in wanted:
        events.setdefault(need.event, []).append(need)
    left = dict(stock)
    found: dict[tuple[int, str, str], list[Weighed]] = {}
    for whole in (True, False):
        for event, of_it in events.items():
            if event in found:
                continue
            told, after = _given(left, of_it, now)
            if whole and any(one.lacks for one in told):
                continue
            left |= after
            found[event] = told if whole else [_spoken(one, stock, now) for one in told]
    return [one for event in events for one in found[event]]


@dataclass(frozen=True)
class Served:
    """What a rise did to events that waited: those that can have all that they lacked, and get it as the store follows;
    those that still lack some."""

    gets: tuple[str, ...] = ()
    still_short: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        parts = []
        if self.gets:
            parts.append(f"All that {' and '.join(self.gets)} waited for is free now; it is promised in a moment.")
        if self.still_short:
            parts.append(f"Still short: {', '.join(self.still_short)}.")
        return " ".join(parts)


NOBODY_WAITED = Served()


def lacking_events(item_ids: Iterable[int], *, now: datetime) -> dict[tuple[int, str, str], str]:
    """{event: its label} of those that wait for one of these items and lack something."""
    ids, wanted = set(item_ids), needs(now=now)
    concerned = {need.event for need in wanted if need.item_id in ids}
    if not concerned:
        return {}
    told = weighed(now=now, asked=wanted)
    return {one.need.event: one.need.label for one in told if one.lacks and one.need.event in concerned}


def served(before: Mapping[tuple[int, str, str], str], item_ids: Iterable[int], *, now: datetime) -> Served:
    """`before` is what `lacking_events` gave before the stock rose."""
    after = lacking_events(item_ids, now=now) if before else {}
    gets = tuple(label for event, label in before.items() if event not in after)
    return Served(gets, tuple(label for event, label in before.items() if event in after))


class Watch:
    """`words` say what the rise did to those that waited, once it is over; empty where nobody did."""

    words = ""

    def after(self, outcome: str) -> str:
        return f"{outcome} {self.words}".strip()


@contextmanager
def watched(item_ids: Iterable[int]) -> Iterator[Watch]:
    """Round an act that makes the stock rise, for the page to say who is served by it."""
    ids, watch = set(item_ids), Watch()
    before = lacking_events(ids, now=timezone.now())
    yield watch
    watch.words = served(before, ids, now=timezone.now()).words


def _given(left: Mapping[int, Stock], wanted: Iterable[Need], now: datetime) -> tuple[list[Weighed], dict[int, Stock]]:
    """What one event would get, and how its items stand after that."""
    after: dict[int, Stock] = {}
    told = []
    for need in wanted:
        one = after.get(need.item_id, left[need.item_id])
        got = min(need.quantity, availability.free_of(one, need.starts, need.ends, now))
        told.append(Weighed(need, need.quantity - got))
        if got:
            taken = [Demand(got, max(need.starts, now), need.ends)]
            after[need.item_id] = replace(
                one,
                demands=one.demands + taken if one.returnable else one.demands,
                wear=one.wear + taken if not one.returnable or one.lasts else one.wear,
            )
    return told, after


def _spoken(one: Weighed, stock: Mapping[int, Stock], now: datetime) -> Weighed:
    need = one.need
    there = availability.free_of(stock[need.item_id], need.starts, need.ends, now)
    return replace(one, spoken_for=max(0, there - one.free) if one.lacks else 0)
