"""The arithmetic of promises against brute force: every piece a thing of its own, every hour looked at."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from inventory import balance
from inventory.balance import NEVER, Demand, Supply

ZERO = datetime(2031, 5, 1, tzinfo=UTC)
HOURS = 12


def at(hour: int) -> datetime:
    return ZERO + timedelta(hours=hour)


def hour_of(moment: datetime) -> int:
    return 10**6 if moment == NEVER else round((moment - ZERO) / timedelta(hours=1))


spans = st.tuples(st.integers(0, HOURS - 1), st.integers(1, 5)).map(lambda x: (at(x[0]), at(x[0] + x[1])))
demands = st.lists(st.builds(lambda q, s: Demand(q, *s), st.integers(1, 3), spans), max_size=6)
lasting = st.lists(st.builds(lambda q, a: Supply(q, at(a)), st.integers(1, 4), st.integers(-2, 8)), max_size=4)
spoiling = st.lists(
    st.builds(
        lambda q, a, keeps: Supply(q, at(a), NEVER if keeps is None else at(a + keeps)),
        st.integers(1, 4),
        st.integers(-2, 8),
        st.none() | st.integers(1, 14),
    ),
    max_size=4,
)


# --- consumables: which piece could go to which demand, matched one by one (augmenting paths)


def most_served(supplies: list[Supply], wanted: list[Demand]) -> int:
    pieces = [s for s in supplies for _ in range(s.quantity)]
    units = [d for d in wanted for _ in range(d.quantity)]
    holder: dict[int, int] = {}

    def place(unit: int, seen: set[int]) -> bool:
        for n, piece in enumerate(pieces):
            fits = piece.arrives <= units[unit].starts and piece.spoils >= units[unit].ends
            if fits and n not in seen:
                seen.add(n)
                if n not in holder or place(holder[n], seen):
                    holder[n] = unit
                    return True
        return False

    return sum(place(unit, set()) for unit in range(len(units)))


def most_more(supplies: list[Supply], wanted: list[Demand], starts: datetime, ends: datetime) -> int:
    """The most that can be taken on top with everybody else served as well as before."""
    before, more = most_served(supplies, wanted), 0
    while most_served(supplies, [*wanted, Demand(more + 1, starts, ends)]) == before + more + 1:
        more += 1
    return more


@given(spoiling, demands, spans)
def test_consumable_free_is_the_most_that_leaves_others_whole(supplies, wanted, span):
    assert balance.free_consumable(supplies, wanted, *span) == most_more(supplies, wanted, *span)


@given(spoiling, demands)
def test_consumables_serve_as_many_as_can_be_served(supplies, wanted):
    served = balance.serve(supplies, wanted)
    total = sum(d.quantity for d in wanted)
    assert total - sum(served.lacking) == most_served(supplies, wanted)
    assert sum(s.quantity for s in supplies) - sum(served.left) == total - sum(served.lacking)


@given(spoiling, demands, spans)
def test_consumable_promised_in_full_leaves_nothing_and_breaks_nothing(supplies, wanted, span):
    q = balance.free_consumable(supplies, wanted, *span)
    if q:
        with_it = [*wanted, Demand(q, *span)]
        assert sum(balance.serve(supplies, with_it).lacking) == sum(balance.serve(supplies, wanted).lacking)
        assert balance.free_consumable(supplies, with_it, *span) == 0


@given(spoiling, demands)
def test_consumable_curve_counts_every_hour(supplies, wanted):
    levels = balance.levels_consumable(supplies, wanted, at(0), at(24))
    served = balance.serve(supplies, wanted)
    for hour in range(24):
        now = at(hour)
        begun = [d for d in wanted if d.starts <= now]
        left = balance.serve(supplies, begun).left
        there = sum(n for n, s in zip(left, supplies, strict=True) if s.arrives <= now < s.spoils)
        hurting = sum(n for n, d in zip(served.lacking, wanted, strict=True) if d.starts <= now < d.ends)
        assert [level for moment, level in levels if moment <= now][-1] == there - hurting


# --- returnables: who holds which piece in which hour


def can_lend(supplies: list[Supply], lent: list[Demand]) -> bool:
    """Hands out single pieces in the order of the starts, any that is here and not out; none here: it can't be done."""
    back_at = [hour_of(s.arrives) for s in supplies for _ in range(s.quantity)]
    for demand in sorted(lent, key=lambda d: d.starts):
        for _ in range(demand.quantity):
            here = [n for n, hour in enumerate(back_at) if hour <= hour_of(demand.starts)]
            if not here:
                return False
            back_at[here[0]] = hour_of(demand.ends)
    return True


@given(lasting, demands, spans)
def test_returnable_free_is_the_most_that_can_be_lent(supplies, wanted, span):
    kept: list[Demand] = []
    for demand in wanted:
        if can_lend(supplies, [*kept, demand]):
            kept.append(demand)
    more = 0
    while can_lend(supplies, [*kept, Demand(more + 1, *span)]):
        more += 1
    assert balance.free_returnable(supplies, kept, *span) == more


@given(spoiling, demands)
def test_returnable_curve_counts_every_hour(supplies, wanted):
    levels = balance.levels_returnable(supplies, wanted, at(0), at(24))
    for hour in range(24):
        now = at(hour)
        here = sum(s.quantity for s in supplies if s.arrives <= now < s.spoils)
        out = sum(d.quantity for d in wanted if d.starts <= now < d.ends)
        assert [level for moment, level in levels if moment <= now][-1] == here - out


@given(spoiling, demands)
def test_returnable_lacking_is_the_worst_hour_of_each_demand(supplies, wanted):
    lacking = balance.lacking_returnable(supplies, wanted)
    for demand, lacks in zip(wanted, lacking, strict=True):
        worst = 0
        for hour in range(hour_of(demand.starts), hour_of(demand.ends)):
            here = sum(s.quantity for s in supplies if hour_of(s.arrives) <= hour < hour_of(s.spoils))
            out = sum(d.quantity for d in wanted if hour_of(d.starts) <= hour < hour_of(d.ends))
            worst = max(worst, out - here)
        assert lacks == min(demand.quantity, worst)


@given(spoiling, demands, st.data())
def test_what_is_out_lacks_nothing_and_changes_nothing_for_others(supplies, wanted, data):
    out = data.draw(st.lists(st.booleans(), min_size=len(wanted), max_size=len(wanted)))
    some_out = [d._replace(out=is_out) for d, is_out in zip(wanted, out, strict=True)]
    plain, told = balance.lacking_returnable(supplies, wanted), balance.lacking_returnable(supplies, some_out)
    assert told == [0 if is_out else lacks for is_out, lacks in zip(out, plain, strict=True)]


def test_returnable_that_spoils_halfway_is_no_help_to_one_that_arrives_halfway():
    supplies = [Supply(1, at(0), at(5)), Supply(1, at(5))]
    assert balance.free_returnable(supplies, [], at(0), at(10)) == 0
    assert balance.free_returnable(supplies, [], at(0), at(5)) == 1
    assert balance.free_returnable(supplies, [], at(5), at(10)) == 1


def test_the_lot_that_spoils_first_goes_first():
    supplies = [Supply(5, at(0)), Supply(5, at(0), at(4))]
    assert balance.serve(supplies, [Demand(5, at(1), at(3))]).left == [5, 0]
    assert balance.serve(supplies, [Demand(5, at(1), at(6))]).left == [0, 5]
