"""A store over weeks, done at random: whatever happens in whatever order, nothing is promised that is not there, the
ledger's sum is what lies there, and what fails half way was never begun."""

import os
from collections import Counter
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as some
from hypothesis.stateful import (
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)

from inventory import availability, counting, ledger, picking, returning, services, stocking
from inventory.ledger import Act
from inventory.models import Item, Lot, Movement, Reservation
from inventory.returning import Ways
from tests.inventory.plain_store import Promise
from tests.inventory.store_ground import confirmed, expecting, held, promised, something_out, something_over
from tests.inventory.store_requests import Requests, crash, days, some_pieces, which
from tests.inventory.store_work import net as sheet

THOROUGH = bool(os.environ.get("KNOTBOOK_THOROUGH"))

few, full = some.integers(1, 3), some.integers(6, 14)
lasting = some.integers(1, 4)


class Store(Requests):
    # --- what comes in

    @initialize(
        quantities=some.tuples(full, full, full),
        begun=some.lists(some.tuples(which, few, days, lasting), min_size=2, max_size=5),
    )
    def shelves_filled(self, quantities, begun) -> None:
        for item, quantity in zip(self.items, quantities, strict=True):
            stocking.lot_add(item=item, quantity=quantity, arrives_on=(self.now - timedelta(days=9)).date())
            self.model.store[item.pk] += quantity
        for number, (item, quantity, on, lasts) in enumerate(begun):
            self._hold({item: quantity, (item + 1) % 3: quantity}, on, lasts, 30, 0)
            if number % 2:
                self._confirm(max(self.model.promises), 0)

    @rule(number=which, quantity=some_pieces, keeps=some.none() | days, plug=crash)
    def receive(self, number, quantity, keeps, plug) -> None:
        item, today = self.items[number], self.now.date()
        use_by = None if keeps is None else today + timedelta(days=keeps)
        self.does(lambda: stocking.lot_add(item=item, quantity=quantity, arrives_on=today, use_by=use_by), plug)
        self.model.store[item.pk] += quantity

    @rule(number=which, quantity=some_pieces, on=days, keeps=some.none() | days)
    def order(self, number, quantity, on, keeps) -> None:
        day = self.now.date() + timedelta(days=on)
        use_by = None if keeps is None else day + timedelta(days=keeps)
        stocking.lot_add(item=self.items[number], quantity=quantity, arrives_on=day, received=False, use_by=use_by)

    def _expected(self, number) -> Lot | None:
        lots = list(Lot.objects.filter(received=False).order_by("pk"))
        return lots[number % len(lots)] if lots else None

    @precondition(expecting)
    @rule(number=days, quantity=some.none() | some_pieces, force=some.booleans(), plug=crash)
    def arrive(self, number, quantity, force, plug) -> None:
        """In full or in part, in time, early or late."""
        if (lot := self._expected(number)) is None:
            return
        self.lowers(lot.item_id, signed=force)
        done = self.does(
            lambda: stocking.lot_receive(
                lot=Lot.objects.get(pk=lot.pk),
                on=self.now.date(),
                quantity=quantity,
                even_if_short=force,
                act=Act(self.by),
            ),
            plug,
        )
        if done:
            self.model.store[lot.item_id] += done.quantity

    @precondition(expecting)
    @rule(number=days, force=some.booleans(), plug=crash)
    def order_cancelled(self, number, force, plug) -> None:
        if lot := self._expected(number):
            self.lowers(lot.item_id, signed=force)
            self.does(lambda: stocking.lot_remove(lot=Lot.objects.get(pk=lot.pk), even_if_short=force), plug)

    @rule(number=days, quantity=some.integers(1, 12), force=some.booleans(), plug=crash)
    def lot_corrected(self, number, quantity, force, plug) -> None:
        lots = list(Lot.objects.filter(received=True, split_from=None).order_by("pk"))
        if not lots:
            return
        lot = lots[number % len(lots)]
        was = lot.quantity

        def change() -> Lot:
            found = Lot.objects.get(pk=lot.pk)
            found.quantity = quantity
            return stocking.lot_change(lot=found, even_if_short=force, act=Act(self.by))

        self.lowers(lot.item_id, signed=force)
        if self.does(change, plug):
            self.model.store[lot.item_id] += quantity - was

    @rule(number=days, force=some.booleans(), plug=crash)
    def lot_taken_away(self, number, force, plug) -> None:
        lots = list(Lot.objects.filter(received=True).order_by("pk"))
        if not lots:
            return
        lot = lots[number % len(lots)]
        self.lowers(lot.item_id, signed=force)
        act = {"even_if_short": force, "act": Act(self.by)}
        left = self.does(lambda: stocking.lot_remove(lot=Lot.objects.get(pk=lot.pk), **act), plug)
        self.model.store[lot.item_id] -= left or 0

    # --- promises

    @rule(
        lines=some.dictionaries(which, few, min_size=1),
        on=days,
        lasts=lasting,
        lapses_in=some.integers(1, 60),
        plug=crash,
    )
    def hold(self, lines, on, lasts, lapses_in, plug) -> None:
        self._hold(lines, on, lasts, lapses_in, plug)

    def _hold(self, lines, on, lasts, lapses_in, plug) -> None:
        starts = self.now + timedelta(days=on)
        asked = {self.items[n].pk: q for n, q in lines.items()}
        span = {"starts": starts, "ends": starts + timedelta(days=lasts)}
        free = availability.free(asked, **span)
        expires = self.now + timedelta(hours=lapses_in)
        made = self.does(
            lambda: services.reservation_hold(lines=list(asked.items()), label="Fair", expires=expires, **span), plug
        )
        assert bool(made) == all(q <= free[pk] for pk, q in asked.items())
        if made:
            self.model.promises[made.pk] = Promise(**span, state="hold", expires=expires, lines=asked)

    @precondition(held)
    @rule(number=days, plug=crash)
    def confirm(self, number, plug) -> None:
        if pk := self.promise(number, "hold"):
            self._confirm(pk, plug)

    def _confirm(self, pk, plug) -> None:
        p = self.model.promises[pk]
        alive, kept = p.live(self.now), Reservation.objects.get(pk=pk)
        free = availability.free(p.lines, p.starts, p.ends, exclude=kept)
        if self.does(lambda: services.reservation_confirm(reservation=Reservation.objects.get(pk=pk)), plug):
            self.model.promises[pk].state = "confirmed"
        else:
            assert not alive, "a hold that is alive must always be confirmed"
            assert any(q > free[pk] for pk, q in p.lines.items()), "what lapsed is promised anew where it is free"

    @precondition(held)
    @rule(number=days, hours=some.integers(1, 90), plug=crash)
    def extend(self, number, hours, plug) -> None:
        if not (pk := self.promise(number, "hold")):
            return
        p = self.model.promises[pk]
        expires, alive = self.now + timedelta(hours=hours), p.live(self.now)
        done = self._change(pk, dict(p.lines), p.starts, p.ends, plug, expires)
        assert done or not alive, "a hold that is alive must always be extended"

    @precondition(promised)
    @rule(
        number=days,
        lines=some.dictionaries(which, few, min_size=1),
        later=some.integers(-2, 3),
        longer=some.integers(-1, 2),
        plug=crash,
    )
    def change(self, number, lines, later, longer, plug) -> None:
        if not (pk := self.promise(number, "hold", "confirmed")):
            return
        p = self.model.promises[pk]
        starts, ends = p.starts + timedelta(days=later), p.ends + timedelta(days=later + longer)
        if ends > starts:
            self._change(pk, {self.items[n].pk: q for n, q in lines.items()}, starts, ends, plug)

    def _change(self, pk, asked, starts, ends, plug, expires=None) -> bool:
        p = self.model.promises[pk]
        if p.picked and ends <= self.now < p.ends:
            self.may_worsen.update(p.out)  # what is out with it is overdue from now on
        done = self.does(
            lambda: services.reservation_change(
                reservation=Reservation.objects.get(pk=pk),
                lines=list(asked.items()),
                starts=starts,
                ends=ends,
                expires=expires,
            ),
            plug,
        )
        if not done:
            return False
        for item in self.model.returnable:
            least = p.out[item] if self.model.returnable[item] else p.taken[item]
            if least:
                asked[item] = max(asked.get(item, 0), least)
        p.over = {item for item in p.over if item in asked and asked[item] <= p.lines[item]}
        p.lines, p.starts, p.ends, p.expires = asked, starts, ends, expires or p.expires
        return True

    @precondition(promised)
    @rule(number=days, plug=crash)
    def release(self, number, plug) -> None:
        pk = self.promise(number, "hold", "confirmed", "released")
        if pk and self.does(lambda: services.reservation_release(reservation=Reservation.objects.get(pk=pk)), plug):
            assert not +self.model.promises[pk].out
            self.model.promises[pk].state = "released"

    @rule(hours=some.sampled_from([1, 7, 24, 24, 50, 120]))
    def time_passes(self, hours) -> None:
        self.pass_time(hours=hours)

    # --- in the store

    @precondition(confirmed)
    @rule(number=days, nth=which, quantity=some_pieces, plug=crash)
    def pick(self, number, nth, quantity, plug) -> None:
        if not (found := self.line_of(number, nth)):
            return
        self._pick(*found, quantity, plug)

    def _pick(self, pk, item, quantity, plug) -> None:
        p = self.model.promises[pk]
        if self.carried_off_untimely(item, p):
            self.may_worsen.add(item)
        done = self.does(lambda: picking.pick(**self.what(pk, item), quantity=quantity, by=self.by), plug)
        if done:
            assert sum(m.out for m in done) == quantity
            self.moved(pk, item, quantity)
        else:
            assert quantity > min(p.lines[item] - p.picked[item], self.usable(item, p)), self.refusal

    @precondition(confirmed)
    @rule(number=days, plug=crash)
    def all_picked(self, number, plug) -> None:
        pk = self.promise(number, "confirmed")
        for nth in range(len(self.model.promises[pk].lines)):
            p = self.model.promises[pk]
            item = sorted(p.lines)[nth]
            rest = p.lines[item] - p.picked[item]
            if item not in p.over and rest > 0:
                self._pick(pk, item, rest, plug)

    @precondition(something_out)
    @rule(number=days, nth=which, quantity=some_pieces, plug=crash)
    def put_back(self, number, nth, quantity, plug) -> None:
        if found := self.line_of(number, nth, out=True):
            done = self.does(lambda: picking.put_back(**self.what(*found), quantity=quantity, by=self.by), plug)
            assert bool(done) == (quantity <= self.model.promises[found[0]].out[found[1]])
            if done:
                self.moved(*found, -quantity)

    @precondition(confirmed)
    @rule(number=days, nth=which, plug=crash)
    def pick_short(self, number, nth, plug) -> None:
        if found := self.line_of(number, nth):
            self.may_worsen.add(found[1])
            self.does(lambda: picking.pick_short(**self.what(*found), by=self.by), plug)
            self.model.store[found[1]] = 0

    @precondition(something_out)
    @rule(
        number=days,
        nth=which,
        ways=some.lists(some.sampled_from(["back", "back", "used", "burst", "thrown", "lost"]), max_size=6),
        done=some.booleans(),
        plug=crash,
    )
    def return_in_all_ways(self, number, nth, ways, done, plug) -> None:
        if not (found := self.line_of(number, nth, out=True)):
            return
        pk, item = found
        p, said = self.model.promises[pk], Counter(ways)
        if self.model.returnable[item]:
            self.may_worsen.add(item)  # what is lost or broken was somebody else's next week
        uses = self._uses(item)
        lines = self.does(
            lambda: returning.take_back(**self.what(pk, item), ways=Ways(**said), done=done, by=self.by), plug
        )
        assert (lines is not None) == (said.total() <= p.out[item])
        if lines is not None:
            if self.model.uses[item] > 1 and not p.out[item] - said["back"]:
                assert uses - self._uses(item) == said["back"], "each piece that came back lost one use"
            self._came_back(pk, item, said, lines, done)

    def _came_back(self, pk, item, said, lines, done) -> None:
        p = self.model.promises[pk]
        back = sum(m.store for m in lines)
        if self.model.uses[item] <= 1:
            assert back == said["back"]
        assert sum(m.out for m in lines) == -(p.out[item] if done else said.total())
        self.model.store[item] += back
        p.taken[item] -= back
        p.out[item] += sum(m.out for m in lines)
        if done:
            p.over.add(item)
            if not p.lines.keys() - p.over:
                p.state = "settled"

    def _uses(self, item) -> int:
        most = self.model.uses[item]
        rows = Movement.objects.filter(item=item).values_list("lot__uses_left", "store", "out")
        return sum((most if left is None else left) * (store + out) for left, store, out in rows)

    @rule(number=which, found=some.integers(0, 14), force=some.booleans(), plug=crash)
    def count(self, number, found, force, plug) -> None:
        item = self.items[number]
        self.lowers(item.pk, signed=force)
        done = self.does(
            lambda: (counting.count(item=item, found=found, by=self.by, even_if_short=force), True)[1], plug
        )
        if done:
            self.model.store[item.pk] = found

    @precondition(something_over)
    @rule(number=days, plug=some.integers(0, 24))  # of three items it writes twice as much as any other act
    def settled_as_planned(self, number, plug) -> None:
        # The page offers it only once it began.
        begun = [k for k, p in self.model.promises.items() if p.state == "confirmed" and p.starts <= self.now]
        pk = begun[number % len(begun)]
        p = self.model.promises[pk]
        open_items = p.lines.keys() - p.over
        # What the ledger says is here goes to it, though an order that is late was to serve it.
        self.may_worsen.update(
            item for item in open_items if self.lacked[item] or self.expects(item) or p.ends > self.now
        )
        if self.does(lambda: returning.settle_as_planned(reservation=Reservation.objects.get(pk=pk), by=self.by), plug):
            for item in open_items:
                taken = max(0, min(p.lines[item] - p.picked[item], self.model.store[item]))
                self.moved(pk, item, taken)
                lines = list(Movement.objects.filter(reservation=pk, item=item, kind__in=("back", "used", "worn")))
                back = p.out[item] if self.model.returnable[item] else 0
                if self.model.uses[item] > 1:
                    back = sum(ledger.on_hand([item]).values()) - self.model.store[item]
                assert lines or not p.out[item]
                self.model.store[item] += back
                p.taken[item] -= back
                p.out[item] = 0
            p.over, p.state = set(p.lines), "settled"


@pytest.fixture
def cast(sky, pole, owner):
    items = [sky, pole, Item.objects.get(pk=sheet(uses=3).pk)]
    Store.cast = {"items": items, "owner": owner, "uses": {items[0].pk: 1, items[1].pk: 1, items[2].pk: 3}}
    yield
    Store.cast = {}


def test_whatever_happens_in_a_store(cast):
    """As many weeks as fit into a few seconds; with KNOTBOOK_THOROUGH others at every run, and thousands."""
    how = settings(
        max_examples=2000 if THOROUGH else 25,
        stateful_step_count=50 if THOROUGH else 30,
        derandomize=not THOROUGH,
        print_blob=True,
        # Without looking for the shortest story of a failure: that takes minutes.
        phases=[Phase.explicit, Phase.generate] + ([Phase.shrink] if THOROUGH else []),
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(Store, settings=how)
