"""A consumable's promises, added up in the database: thousands of them come back as a few.

What a promise can be served from depends only on which lots have come by its start and which keep to its end. All
promises for which these are the same may be taken as one of their summed quantity: what can still be promised is a
matter of totals (balance.py), and those do not change.

The starts are cut into stripes wherever a lot comes or goes. What starts in one ends before the next lot goes, but for
the few promises that reach beyond; these can only have begun within the length of the longest one before that, and are
read one by one. So each promise is added up once, with no look at its end, and the work grows with the number of lots
and not with its square.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import pairwise
from typing import Any, NamedTuple

from django.db import connection

from inventory.balance import Demand, Supply

FIRST = datetime(1, 1, 2, tzinfo=UTC)
LAST = datetime(9999, 12, 30, tzinfo=UTC)
STEP = timedelta(microseconds=1)
SURE = timedelta(seconds=1)
"""SQLite tells the length of a span in days, true to far less than a second."""
MOST_STRIPES = 1000
"""In one query; SQLite takes no more than 32,766 values, and each stripe has up to nine."""
MOST_IDS = 10_000

REACH = """
SELECT item.id,
    (SELECT MAX({length}) FROM inventory_reservationline line WHERE line.item_id = item.id AND line.counts),
    (SELECT MAX(line.starts) FROM inventory_reservationline line WHERE line.item_id = item.id AND line.counts)
FROM inventory_item item WHERE item.id IN ({items})
"""
STRIPES = "stripe(n, item, starts_from, starts_before) AS (VALUES {stripes})"
BEYOND = "beyond(n, item, starts_from, starts_before, ends_after) AS (VALUES {beyond})"
SUMS = """
SELECT stripe.n, {nothing}, {nothing}, (
    SELECT SUM(line.quantity) FROM inventory_reservationline line
    WHERE line.item_id = stripe.item AND line.counts
      AND line.starts >= stripe.starts_from AND line.starts < stripe.starts_before
) FROM stripe
"""
ONE_BY_ONE = """
SELECT beyond.n, {nothing}, line.ends, line.quantity FROM beyond JOIN inventory_reservationline line
    ON line.item_id = beyond.item AND line.counts
   AND line.starts >= beyond.starts_from AND line.starts < beyond.starts_before AND line.ends > beyond.ends_after
"""
BESIDES = """
SELECT -line.item_id, line.starts, line.ends, line.quantity FROM inventory_reservationline line
WHERE line.counts AND line.item_id IN ({items}) AND line.reservation_id IN ({besides})
"""
NEAR = """
WITH near(item, since) AS (VALUES {near})
SELECT line.item_id, line.quantity, {starts}, {ends}, line.id, line.reservation_id
FROM near JOIN inventory_reservationline line ON line.item_id = near.item AND line.counts
    AND line.starts > near.since AND line.starts < %s AND line.ends > %s
ORDER BY line.starts, line.id
"""


class Reach(NamedTuple):
    """Of an item's promises that count none is longer than `longest`, and none ends after `last`."""

    longest: timedelta
    last: datetime


class Stripe(NamedTuple):
    """Promises of `item` that start from `begin` on and before `until`. Those that end after `by` may have begun from
    `look` on; None where there are none such."""

    item: int
    begin: datetime
    until: datetime
    look: datetime | None
    by: datetime


class Row(NamedTuple):
    """A line as it is kept, `by` its reservation."""

    item: int
    quantity: int
    starts: datetime
    ends: datetime
    line: int
    by: int


@dataclass(frozen=True)
class Cuts:
    """The moments at which lots come and go: between them every promise finds the same ones."""

    comes: list[datetime]
    goes: list[datetime]

    def place(self, starts: datetime, ends: datetime) -> tuple[int, int]:
        return bisect_right(self.comes, starts), bisect_left(self.goes, ends)

    def least(self, starts: datetime) -> tuple[int, int]:
        """The place of what starts then and ends before anything else goes."""
        return bisect_right(self.comes, starts), bisect_right(self.goes, starts)

    def stripes(self, item: int, longest: timedelta) -> Iterator[Stripe]:
        for begin, until in pairwise([FIRST, *sorted({*self.comes, *self.goes}), LAST]):
            later = bisect_right(self.goes, begin)
            by = self.goes[later] if later < len(self.goes) else LAST
            look = max(begin, back(by, longest))
            yield Stripe(item, begin, until, look if by < LAST and look < until else None, by)

    def demand(self, place: tuple[int, int], quantity: int, now: datetime) -> Demand:
        """What is past begins now."""
        come, gone = place
        begin = self.comes[come - 1] if come else FIRST
        return Demand(quantity, max(begin, now), (self.goes[gone - 1] if gone else FIRST) + STEP)


def back(moment: datetime, length: timedelta) -> datetime:
    return moment - length if moment - FIRST > length else FIRST


def reaches(item_ids: Iterable[int]) -> dict[int, Reach]:
    """{item id: how far its promises reach}, only of items of which any counts. Whoever promises holds the items'
    locks, so that no longer one comes in between this and what is read by it."""
    ids = sorted(set(item_ids))
    sqlite = connection.vendor == "sqlite"
    length = "julianday(line.ends) - julianday(line.starts)" if sqlite else "line.ends - line.starts"
    found: dict[int, Reach] = {}
    for first in range(0, len(ids), MOST_IDS):
        some = ids[first : first + MOST_IDS]
        with connection.cursor() as cursor:
            cursor.execute(REACH.format(length=length, items=_places(len(some))), some)
            for item, length_, starts in cursor.fetchall():
                if starts is not None:
                    longest = (timedelta(days=length_) if sqlite else length_) + SURE
                    found[item] = Reach(longest, _moment(starts) + longest)
    return found


def summed(
    supplies: Mapping[int, list[Supply]],
    reach: Mapping[int, Reach],
    *,
    now: datetime,
    besides: Collection[int],
    at: datetime | None = None,
) -> dict[int, list[Demand]]:
    """{item id: its promises, summed}, without those of the reservations `besides`: holds that lapsed, and those for
    which picking has begun, of which only the rest counts. They are given and not looked up again, for one that begins
    between the two readings would be in neither. `at`: what starts by then is told apart from what starts later."""
    cuts = {item: _cuts(lots, now, reach[item].last, at) for item, lots in supplies.items() if item in reach}
    stripes = [stripe for item, one in cuts.items() for stripe in one.stripes(item, reach[item].longest)]
    sums: dict[int, dict[tuple[int, int], int]] = {item: defaultdict(int) for item in cuts}
    for first in range(0, len(stripes), MOST_STRIPES):
        some = stripes[first : first + MOST_STRIPES]
        # Of an item whose stripes come in two queries, what is beside them is told with the first.
        items = {stripe.item for stripe in some if stripe.begin == FIRST}
        for number, starts, ends, quantity in _read(some, items, besides):
            if number < 0:
                sums[-number][cuts[-number].place(_moment(starts), _moment(ends))] -= quantity
                continue
            stripe = some[number]
            one, of_it = cuts[stripe.item], sums[stripe.item]
            least = one.least(stripe.begin)
            if ends is None:
                of_it[least] += int(quantity or 0)
            else:
                of_it[least] -= quantity
                of_it[least[0], one.place(stripe.begin, _moment(ends))[1]] += quantity
    found: dict[int, list[Demand]] = {item: [] for item in supplies}
    for item, of_it in sums.items():
        found[item] = [cuts[item].demand(place, n, now) for place, n in sorted(of_it.items()) if n]
    return found


def within(
    item_ids: Iterable[int], reach: Mapping[int, Reach], starts: datetime, ends: datetime, *, besides: Collection[int]
) -> list[Row]:
    """The lines of these items that meet the span, in the order in which they begin. Of each item only those are looked
    at that began within the length of its longest one before the span: else all would be that ever began before it."""
    moment, some = connection.ops.adapt_datetimefield_value, sorted(set(item_ids) & reach.keys())
    row, starts_as, ends_as = "(%s::bigint, %s::timestamptz)", "line.starts", "line.ends"
    if connection.vendor == "sqlite":
        # As words: the driver's own way from a column to a moment takes several times as long.
        row, starts_as, ends_as = "(%s, %s)", "CAST(line.starts AS text)", "CAST(line.ends AS text)"
    found: list[Row] = []
    for first in range(0, len(some), MOST_IDS):
        ids = some[first : first + MOST_IDS]
        values = [value for pk in ids for value in (pk, moment(back(starts, reach[pk].longest)))]
        with connection.cursor() as cursor:
            query = NEAR.format(near=", ".join([row] * len(ids)), starts=starts_as, ends=ends_as)
            cursor.execute(query, [*values, moment(ends), moment(starts)])
            found += [
                Row(item, quantity, _moment(begins), _moment(finishes), line, by)
                for item, quantity, begins, finishes, line, by in cursor.fetchall()
                if by not in besides
            ]
    return found


def _cuts(lots: Sequence[Supply], now: datetime, last: datetime, at: datetime | None) -> Cuts:
    """What comes or goes after the last promise makes no difference to any."""
    comes = {lot.arrives for lot in lots if now < lot.arrives < last}
    goes = {lot.spoils for lot in lots if lot.spoils < last}
    return Cuts(sorted(comes | ({at + STEP} if at is not None else set())), sorted(goes))


def _read(
    stripes: Sequence[Stripe], items: Collection[int], besides: Collection[int]
) -> list[tuple[int, Any, Any, Any]]:
    """In one statement, so that all of it is told of the same moment."""
    moment = cache(connection.ops.adapt_datetimefield_value)
    row, nothing = "(%s, %s, %s, %s{})", "NULL"
    if connection.vendor == "postgresql":
        row, nothing = "(%s::int, %s::bigint, %s::timestamptz, %s::timestamptz{})", "NULL::timestamptz"
    stripe, values = row.format(""), []
    for number, one in enumerate(stripes):
        values += [number, one.item, moment(one.begin), moment(one.until)]
    tables, parts = [STRIPES.format(stripes=", ".join([stripe] * len(stripes)))], [SUMS]
    if beyond := [(n, one) for n, one in enumerate(stripes) if one.look is not None]:
        for number, one in beyond:
            values += [number, one.item, moment(one.look), moment(one.until), moment(one.by)]
        more = row.format(", %s::timestamptz" if connection.vendor == "postgresql" else ", %s")
        tables.append(BEYOND.format(beyond=", ".join([more] * len(beyond))))
        parts.append(ONE_BY_ONE)
    if besides and items:
        parts.append(BESIDES.format(items=_places(len(items)), besides=_places(len(besides))))
        values += [*items, *besides]
    query = f"WITH {', '.join(tables)} {' UNION ALL '.join(parts)}".replace("{nothing}", nothing)
    with connection.cursor() as cursor:
        cursor.execute(query, values)
        return cursor.fetchall()  # type: ignore[no-any-return]


def _places(number: int) -> str:
    return ", ".join(["%s"] * number)


def _moment(value: Any) -> datetime:
    """SQLite gives its own words for it, in UTC."""
    return datetime.fromisoformat(f"{value}+00:00") if isinstance(value, str) else value
