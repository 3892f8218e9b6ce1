"""How needs beyond promises are weighed: on the plain numbers of a store, without a database."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from inventory.availability import Stock, free_of
from inventory.balance import NEVER, Demand, Supply
from inventory.unpromised import Need, weigh

NOW = datetime(2026, 5, 4, 9, tzinfo=UTC)
LATEX, POLE = 1, 2


def day(number: float) -> datetime:
    return NOW + timedelta(days=number)


days = st.integers(0, 9)
spans = st.tuples(days, st.integers(1, 4)).map(lambda pair: (day(pair[0]), day(pair[0] + pair[1])))


@st.composite
def stores(draw):
    """Lots and promises of a balloon and of a pole; promises may lack something already."""
    found = {}
    for item, returnable in ((LATEX, False), (POLE, True)):
        lots = draw(st.lists(st.tuples(st.integers(1, 12), st.integers(-3, 6), st.integers(1, 12)), max_size=3))
        supplies = [
            Supply(n, day(comes), day(comes + keeps) if keeps < 12 and not returnable else NEVER)
            for n, comes, keeps in lots
        ]
        promised = draw(st.lists(st.tuples(st.integers(1, 6), spans), max_size=4))
        demands = [Demand(n, *span, line) for line, (n, span) in enumerate(promised, 1)]
        kept = {"demands": demands} if returnable else {"wear": demands}
        found[item] = Stock(item, returnable, supplies=supplies, **kept)
    return found


@st.composite
def waits(draw):
    """Events in the order in which they begin, each with what it needs of one or both."""
    found = []
    for event, span in enumerate(sorted(draw(st.lists(spans, min_size=1, max_size=5))), 1):
        wanted = draw(st.dictionaries(st.sampled_from([LATEX, POLE]), st.integers(1, 9), min_size=1))
        found += [Need(item, n, *span, f"Event {event}", promise=event) for item, n in sorted(wanted.items())]
    return found


def given_out(stock, told):
    """As if what is free of these were promised."""
    after = dict(stock)
    for one in told:
        item = after[one.need.item_id]
        more = [Demand(one.free, one.need.starts, one.need.ends, -1)] if one.free else []
        kept = {"demands": item.demands + more} if item.returnable else {"wear": item.wear + more}
        after[one.need.item_id] = replace(item, **kept)
    return after


def of_events(told):
    events: dict[int, list] = {}
    for one in told:
        events.setdefault(one.need.promise, []).append(one)
    return events


@given(stores(), waits())
def test_nobody_is_given_what_a_promise_has(stock, wanted):
    told = weigh(stock, wanted, NOW)
    assert [one.need for one in told] == wanted and all(0 <= one.lacks <= one.need.quantity for one in told)
    after = given_out(stock, told)
    for item, one in stock.items():
        lacked = one.lacking()
        assert {line: n for line, n in after[item].lacking().items() if line > 0} == lacked


@given(stores(), waits())
def test_no_figure_changes_when_the_store_has_followed(stock, wanted):
    """Whoever lacks nothing is promised it, and then no need any more; the others are told the same as before."""
    told = of_events(weigh(stock, wanted, NOW))
    whole = {event for event, of_it in told.items() if not any(one.lacks for one in of_it)}
    after = given_out(stock, [one for event in whole for one in told[event]])
    left = [need for need in wanted if need.promise not in whole]
    again = of_events(weigh(after, left, NOW))
    assert {e: [one.lacks for one in of_it] for e, of_it in again.items()} == {
        e: [one.lacks for one in of_it] for e, of_it in told.items() if e not in whole
    }


@given(stores(), waits())
def test_an_event_that_lacks_something_could_not_have_had_all_of_it_instead_of_another_that_waits(stock, wanted):
    """Whole events first: none is kept from what it needs by one that gets only a part."""
    told = of_events(weigh(stock, wanted, NOW))
    whole = [one for of_it in told.values() if not any(one.lacks for one in of_it) for one in of_it]
    after = given_out(stock, whole)
    for of_it in told.values():
        if any(one.lacks for one in of_it):
            assert any(
                free_of(after[one.need.item_id], one.need.starts, one.need.ends, NOW) < one.need.quantity
                for one in of_it
            )


@given(stores(), waits())
def test_what_is_lacking_closes_it_when_it_is_bought(stock, wanted):
    """With what promises lack, which comes first."""
    told = weigh(stock, wanted, NOW)
    bought = {}
    for item, one in stock.items():
        lacks = sum(one.lacking().values()) + sum(n.lacks for n in told if n.need.item_id == item)
        more = [Supply(lacks, NOW - timedelta(days=9))] if lacks else []
        bought[item] = replace(one, supplies=one.supplies + more)
    assert [one.lacks for one in weigh(bought, wanted, NOW)] == [0] * len(wanted)


@given(stores(), waits())
def test_alone_it_lacks_what_is_not_free(stock, wanted):
    for event in {need.promise for need in wanted}:
        mine = [need for need in wanted if need.promise == event]
        for one in weigh(stock, mine, NOW):
            there = free_of(stock[one.need.item_id], one.need.starts, one.need.ends, NOW)
            assert one.lacks == max(0, one.need.quantity - there) and one.spoken_for == 0


def test_what_goes_to_another_first_is_said():
    """Of four poles the first gets three; of the one that is left the second knows, and that three are spoken for."""
    stock = {POLE: Stock(POLE, True, supplies=[Supply(4, day(-1))])}
    wanted = [Need(POLE, 3, day(1), day(3), "First", promise=1), Need(POLE, 3, day(2), day(4), "Second", promise=2)]
    first, second = weigh(stock, wanted, NOW)
    assert (first.lacks, first.free, second.lacks, second.free, second.spoken_for) == (0, 3, 2, 1, 3)


def test_of_a_span_that_has_begun_the_rest_counts():
    came = [Supply(10, day(-0.2))]
    stock = {LATEX: Stock(LATEX, False, supplies=came), POLE: Stock(POLE, True, supplies=came)}
    wanted = [Need(item, 6, day(-1), day(2), "Being prepared", promise=1) for item in (LATEX, POLE)]
    assert [one.lacks for one in weigh(stock, wanted, NOW)] == [0, 0]
