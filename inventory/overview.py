"""How many items stand at once, for pages that list them all: promises come from the database as sums, and line by line
only of items that may lack something, for only there a page names one.

What they tell is what `availability.stock_of` would have them tell. A consumable lacks nothing where its sums lack
nothing. A returnable lacks nothing where all that is promised within a week and what reaches into it, as if all of it
were away at once, is no more than there ever is at the least."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime, timedelta

from django.db import connection

from inventory import availability, balance
from inventory.availability import Stock
from inventory.demand_sums import MOST_IDS, Reach, back

WEEK, DAY = timedelta(days=7), timedelta(days=1)
FAR = 8
"""Weeks; where something is promised for longer, all promises are taken together."""
WEEKS = """
SELECT line.item_id, {week} AS week, SUM(line.quantity) FROM inventory_reservationline line
WHERE line.counts AND line.item_id IN ({items}) GROUP BY line.item_id, {week}
"""


def standing(
    item_ids: Iterable[int],
    *,
    now: datetime,
    span: tuple[datetime, datetime] | None = None,
    named: Collection[int] = (),
) -> dict[int, Stock]:
    """Of each item enough for `availability.free_detail` over the span, without one for now, and for all that is told
    of its stock from `now` on. Of those that are `named` all promises are there, one by one."""
    ids = set(item_ids)
    starts, ends = span or (now, now + DAY)

    def doubtful(stock: Mapping[int, Stock], reach: Mapping[int, Reach], now: datetime) -> set[int]:
        most = _most_at_once([pk for pk, one in stock.items() if one.returnable], reach)
        may = {pk for pk, one in stock.items() if _may_wear_out(one) or _may_lack(one, most.get(pk, 0), reach, now)}
        return may | (ids & set(named))

    return availability.stock_seen(ids, now=now, starts=starts, ends=ends, doubtful=doubtful) if ids else {}


def _may_wear_out(stock: Stock) -> bool:
    return stock.wears and any(balance.serve(stock.uses if stock.lasts else stock.supplies, stock.wear).lacking)


def _may_lack(stock: Stock, most: int, reach: Mapping[int, Reach], now: datetime) -> bool:
    """What is away now counts on top: of what is out, for longer than it was promised."""
    if not stock.returnable or stock.item_id not in reach:
        return False
    away = [demand for demand in stock.demands if demand.starts <= now]
    since = min([back(now, reach[stock.item_id].longest), *(demand.starts for demand in away)])
    least = min(level for _, level in balance.levels_returnable(stock.supplies, [], since, balance.NEVER))
    return most + sum(demand.quantity for demand in away) > least


def _most_at_once(lent: list[int], reach: Mapping[int, Reach]) -> dict[int, int]:
    """{item id: no more of it than that is promised at any moment}."""
    sqlite = connection.vendor == "sqlite"
    week = (
        "CAST(julianday(line.starts) / 7 AS integer)" if sqlite else "FLOOR(EXTRACT(EPOCH FROM line.starts) / 604800)"
    )
    weeks: dict[int, dict[int, int]] = defaultdict(dict)
    for first in range(0, len(lent), MOST_IDS):
        some = lent[first : first + MOST_IDS]
        with connection.cursor() as cursor:
            cursor.execute(WEEKS.format(week=week, items=", ".join(["%s"] * len(some))), some)
            for item, number, quantity in cursor.fetchall():
                weeks[item][int(number)] = int(quantity)
    return {item: _peak(of_it, -(-reach[item].longest // WEEK)) for item, of_it in weeks.items() if item in reach}


def _peak(weeks: Mapping[int, int], reaching: int) -> int:
    """What starts in a week is away in it and in `reaching` more.

    >>> _peak({1: 3, 2: 4, 5: 6}, 1), _peak({1: 3, 2: 4, 5: 6}, 3), _peak({1: 3, 2: 4, 5: 6}, 9)
    (7, 10, 13)
    """
    if reaching > FAR:
        return sum(weeks.values())
    return max(sum(weeks.get(week - ago, 0) for ago in range(reaching + 1)) for week in weeks)
