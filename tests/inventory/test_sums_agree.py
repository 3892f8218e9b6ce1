"""What is free is the same whether promises come as sums from the database, as lines, or are tried out one by one."""

import random
from datetime import timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as some

from inventory import availability, balance, overview
from inventory.balance import Demand
from inventory.buying import there_for_level
from inventory.models import Lot, Movement, Reservation, ReservationLine, Sheet
from inventory.picking import pick
from inventory.stocking import lacking_of
from tests.inventory.conftest import NOW, day

pytestmark = pytest.mark.django_db

DAYS = some.integers(-3, 7)
lots = some.lists(
    some.fixed_dictionaries(
        {
            "quantity": some.integers(1, 30),
            "arrives": some.integers(-4, 6),
            "keeps": some.one_of(some.none(), some.integers(0, 8)),
            "uses_left": some.one_of(some.none(), some.integers(1, 4)),
        }
    ),
    max_size=4,
)
lines = some.lists(
    some.fixed_dictionaries(
        {
            "quantity": some.integers(1, 12),
            "starts": DAYS,
            "hour": some.sampled_from([0, 0, 9]),
            "lasts": some.integers(1, 6),
            "state": some.sampled_from(["confirmed", "confirmed", "hold", "lapsed", "released"]),
            "picked": some.integers(0, 12),
        }
    ),
    max_size=7,
)


@pytest.fixture
def net(db) -> Sheet:
    return Sheet.objects.create(
        kind="sheet", name="Net", returnable=True, rows=8, columns=8, pitch_m=0.1, sized_diameter_m=0.1, uses=3
    )


def fill(item, lots, lines) -> list[Reservation]:
    for lot in lots:
        arrives = day(lot["arrives"]).date()
        Lot.objects.create(
            item_id=item.pk,
            quantity=lot["quantity"],
            arrives_on=arrives,
            received=lot["arrives"] <= 0,
            use_by=None if lot["keeps"] is None else arrives + timedelta(days=lot["keeps"]),
            uses_left=lot["uses_left"] if item.kind == "sheet" else None,
        )
    made = []
    for number, line in enumerate(lines):
        starts = day(line["starts"], line["hour"])
        ends = starts + timedelta(days=line["lasts"])
        state = "hold" if line["state"] == "lapsed" else line["state"]
        expires = NOW + timedelta(hours=-1 if line["state"] == "lapsed" else 5)
        reservation = Reservation.objects.create(
            label=f"Fair {number}", starts=starts, ends=ends, state=state, expires=expires
        )
        ReservationLine.objects.create(
            reservation=reservation,
            item_id=item.pk,
            quantity=line["quantity"],
            starts=starts,
            ends=ends,
            counts=state != "released",
        )
        if line["picked"] and state == "confirmed":
            _pick(reservation, item, min(line["picked"], line["quantity"]))
        made.append(reservation)
    return made


def _pick(reservation, item, quantity) -> None:
    """From any lot that has so many, as somebody in a hurry does."""
    sums = Movement.objects.filter(item=item.pk).order_by().values_list("lot_id", "store")
    store: dict[int, int] = {}
    for lot_id, amount in sums:
        store[lot_id] = store.get(lot_id, 0) + amount
    for lot_id, there in sorted(store.items()):
        if there >= quantity:
            pick(reservation=reservation, item=item, quantity=quantity, lot=Lot.objects.get(pk=lot_id))
            return


def by_trial(stock: availability.Stock, starts, ends) -> int:
    """As many more as can be promised, one after the other, before anything that is served is served less."""

    def served(more: int) -> int:
        extra = [Demand(more, starts, ends)] if more else []
        wanted = [*stock.wear, *extra]
        return sum(d.quantity for d in wanted) - sum(
            balance.serve(stock.uses if stock.lasts else stock.supplies, wanted).lacking
        )

    def lends(more: int) -> bool:
        whole = sum(s.quantity for s in stock.supplies if s.arrives <= starts and s.spoils >= ends)
        levels = balance.levels_returnable(stock.supplies, stock.demands, starts, ends)
        return more <= whole and all(level >= more for _, level in levels)

    more, before = 0, served(0)
    while more < 200:
        wears = stock.returnable and not stock.lasts
        if not (wears or served(more + 1) == before + more + 1) or (stock.returnable and not lends(more + 1)):
            break
        more += 1
    return more + (0 if stock.returnable else stock.own)


def lot(quantity, arrives, keeps=None) -> dict:
    return {"quantity": quantity, "arrives": arrives, "keeps": keeps, "uses_left": None}


def line(quantity, starts) -> dict:
    return {"quantity": quantity, "starts": starts, "hour": 0, "lasts": 1, "state": "confirmed", "picked": 0}


# A promise that ends in the very moment in which its lot spoils; one that starts as an order arrives.
@example(lots=[lot(10, -3, 5)], lines=[line(4, 2)], kind="latex", starts=1, lasts=1, without=-1)
@example(lots=[lot(3, -3), lot(10, 3)], lines=[line(4, 3)], kind="latex", starts=5, lasts=1, without=-1)
@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    lots=lots,
    lines=lines,
    kind=some.sampled_from(["latex", "pole", "net"]),
    starts=DAYS,
    lasts=some.integers(1, 9),
    without=some.integers(-1, 6),
)
def test_summed_listed_and_tried_out(sky, pole, net, lots, lines, kind, starts, lasts, without):
    item = {"latex": sky, "pole": pole, "net": net}[kind]
    span = day(starts), day(starts + lasts)
    with transaction.atomic():
        made = fill(item, lots, lines)
        exclude = made[without] if 0 <= without < len(made) else None
        summed = availability.free([item.pk], *span, now=NOW, exclude=exclude)[item.pk]
        listed = availability.stock_of([item.pk], now=NOW, starts=span[0], ends=span[1], exclude=exclude)[item.pk]
        if span[0] < NOW < span[1]:
            span = NOW, span[1]  # Of a span that has begun the rest counts.
        assert summed == listed.free(*span) == by_trial(listed, *span)
        transaction.set_rollback(True)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    lots=lots,
    lines=lines,
    kind=some.sampled_from(["latex", "pole", "net"]),
    span=some.one_of(some.none(), some.tuples(some.integers(0, 7), some.integers(1, 9))),
)
def test_a_list_tells_by_sums_what_it_would_tell_line_by_line(sky, pole, net, lots, lines, kind, span):
    item = {"latex": sky, "pole": pole, "net": net}[kind]
    with transaction.atomic():
        fill(item, lots, lines)
        asked = (max(day(span[0]), NOW), day(span[0] + span[1])) if span else None
        starts, ends = asked or (NOW, NOW + timedelta(days=1))
        seen = overview.standing([item.pk], now=NOW, span=asked)
        listed = availability.stock_of([item.pk], now=NOW, starts=NOW)
        assert availability.free_detail([item.pk], starts, ends, now=NOW, stock=seen) == availability.free_detail(
            [item.pk], starts, ends, now=NOW, stock=listed
        )
        assert lacking_of(seen[item.pk], NOW) == lacking_of(listed[item.pk], NOW)
        assert there_for_level(seen[item.pk], NOW) == there_for_level(listed[item.pk], NOW)
        assert seen[item.pk].supplies == listed[item.pk].supplies
        transaction.set_rollback(True)


def test_only_what_may_lack_something_is_read_line_by_line(sky, pole):
    for item in (sky, pole):
        fill(item, [lot(10, -3)], [line(4, 1), line(4, 2), line(2, 6)])
    seen = overview.standing([sky.pk, pole.pk], now=NOW)
    # Of the pole only what is away within the span, which is the day from now on.
    assert [d.quantity for d in seen[sky.pk].wear] == [10] and [d.quantity for d in seen[pole.pk].demands] == [4]
    # Within one week eleven poles could be away at once, though never more than five are: that is looked at closely.
    fill(pole, [], [line(1, 1)])
    fill(sky, [], [line(1, 4)])
    seen = overview.standing([sky.pk, pole.pk], now=NOW)
    assert len(seen[sky.pk].wear) == len(seen[pole.pk].demands) == 4
    assert [*lacking_of(seen[sky.pk], NOW).values()] == [1] and not lacking_of(seen[pole.pk], NOW)


def test_hundreds_of_days_on_which_lots_come_and_go_take_no_more_queries(sky, django_assert_num_queries):
    """With 200 lots that come on other days and spoil on other days there are 40,000 pairs of one and the other."""
    dice = random.Random(7)
    first = Lot.objects.bulk_create(
        Lot(
            item_id=sky.pk,
            quantity=dice.randint(1, 20),
            arrives_on=day(n).date(),
            received=False,
            use_by=day(n + dice.randint(0, 90)).date(),
        )
        for n in range(1, 201)
    )
    assert len(first) == 200
    for number in range(300):
        starts = day(dice.randint(-2, 200), dice.choice([0, 9, 17]))
        ends = starts + timedelta(hours=dice.choice([8, 24, 48, 48, 400, 3000]))
        reservation = Reservation.objects.create(label=f"Fair {number}", starts=starts, ends=ends, state="confirmed")
        line = {"quantity": dice.randint(1, 12), "starts": starts, "ends": ends}
        ReservationLine.objects.create(reservation=reservation, item_id=sky.pk, **line)
    listed = availability.stock_of([sky.pk], now=NOW, starts=NOW)[sky.pk]
    told = {}
    for begin in range(0, 220, 11):
        span = day(begin, 12), day(begin + dice.choice([1, 3, 30]), 20)
        with django_assert_num_queries(6):
            told[begin] = availability.free([sky.pk], *span, now=NOW)[sky.pk]
        assert told[begin] == listed.free(*span)
    assert len(set(told.values())) > 5
