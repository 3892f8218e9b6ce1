"""The store in which things are done at random: its clock, how an act is tried, and what must be so after each."""

from collections import Counter
from datetime import timedelta
from unittest import mock

from django.db import connection, transaction
from hypothesis.stateful import RuleBasedStateMachine, invariant

from decor.studio.models import AppliedCommand
from inventory import availability, ledger, services, stocking
from inventory.models import Count, Item, Lot, Movement, Reservation, ReservationLine
from tests.inventory.conftest import NOW
from tests.inventory.plain_store import Model

REFUSALS = (services.Shortage, stocking.PromisesBroken, ValueError)
WRITES = ("INSERT", "UPDATE", "DELETE")


class PulledPlug(BaseException):
    pass


class Plug:
    """Dies in the place of the n-th write."""

    def __init__(self, at: int) -> None:
        self.at, self.seen = at, 0

    def __call__(self, execute, sql, params, many, context):
        if sql.lstrip().upper().startswith(WRITES):
            self.seen += 1
            if self.seen == self.at:
                raise PulledPlug
        return execute(sql, params, many, context)


def dump() -> tuple:
    """All that the store's tables hold, and last what was sent from pages."""
    found = []
    with connection.cursor() as cursor:
        for table in (Lot, Movement, Count, Reservation, ReservationLine, AppliedCommand):
            cursor.execute(f"SELECT * FROM {table._meta.db_table} ORDER BY id")
            found.append(cursor.fetchall())
    return tuple(found)


def held(store) -> bool:
    return store.promise(0, "hold") is not None


def confirmed(store) -> bool:
    return store.promise(0, "confirmed") is not None


def promised(store) -> bool:
    return held(store) or confirmed(store)


def something_out(store) -> bool:
    return any(+p.out for p in store.model.promises.values())


def something_over(store) -> bool:
    return any(p.state == "confirmed" and p.starts <= store.now for p in store.model.promises.values())


def expecting(store) -> bool:
    return Lot.objects.filter(received=False).exists()


class Ground(RuleBasedStateMachine):
    cast: dict = {}

    def __init__(self) -> None:
        super().__init__()
        self.now = NOW
        self.clock = mock.patch("django.utils.timezone.now", lambda: self.now)
        self.clock.start()
        # Lots are added up often here, so that a sum that left a line out would show.
        self.often = mock.patch.object(ledger, "ADDED_UP_EVERY", 3)
        self.often.start()
        self.database = transaction.atomic()
        self.database.__enter__()
        self.items: list[Item] = self.cast["items"]
        self.by = self.cast["owner"]
        self.model = Model(
            {item.pk: item.returnable for item in self.items},
            {item.pk: self.cast["uses"][item.pk] for item in self.items},
        )
        self.lacked: dict[int, int] = dict.fromkeys(self.model.returnable, 0)
        self.lines: dict[int, int] = {}
        self.hurt: dict[int, int] = dict.fromkeys(self.model.returnable, 0)
        self.may_worsen: set[int] = set()
        self.lowered: set[int] = set()
        self.sent: list = []

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.database.__exit__(None, None, None)
        self.often.stop()
        self.clock.stop()

    # --- how an act is done

    def does(self, act, plug: int = 0):
        """What it gives, or None where it is refused; then nothing is written, and neither where it dies on its way."""
        before = dump()
        if plug:
            try:
                with transaction.atomic(), connection.execute_wrapper(Plug(plug)):
                    act()
                    raise PulledPlug  # nothing was left to die of: undone as well, and done for good below
            except PulledPlug:
                pass
            except REFUSALS:
                pass
            assert dump() == before, "half of it was written"
        try:
            return act()
        except REFUSALS as refusal:
            assert dump() == before, f"refused, and yet written: {refusal}"
            self.refusal = refusal
            return None

    def pass_time(self, **lasting) -> None:
        """Holds lapse; what is on order comes late; what is out is overdue. Nobody signs these."""
        then = self.now + timedelta(**lasting)
        late = Lot.objects.filter(received=False, arrives_on__lt=then.date(), arrives_on__gte=self.now.date())
        self.may_worsen.update(late.values_list("item_id", flat=True))
        for p in self.model.promises.values():
            if p.live(self.now) and self.now < p.ends <= then:
                self.may_worsen.update(item for item in p.out if self.model.returnable[item])
        self.now = then

    def lowers(self, item: int, *, signed: bool) -> None:
        (self.may_worsen if signed else self.lowered).add(item)

    def promise(self, number: int, *states: str) -> int | None:
        found = [pk for pk, p in self.model.promises.items() if p.state in states]
        return found[number % len(found)] if found else None

    # --- which line, and what lies there for it

    def line_of(self, number, nth, *, out=False) -> tuple[int, int] | None:
        """A line that is still open; of something that is out, if `out`."""
        if out:
            lines = [(pk, item) for pk, p in self.model.promises.items() for item in +p.out]
            return lines[number % len(lines)] if lines else None
        if not (pk := self.promise(number, "confirmed")):
            return None
        items = [item for item in self.model.promises[pk].lines if item not in self.model.promises[pk].over]
        return (pk, items[nth % len(items)]) if items else None

    def usable(self, item, p) -> int:
        """Lying there and keeping until the event is over: what nobody may refuse to hand out."""
        rows = Movement.objects.filter(item=item).values_list("lot_id", "store")
        lots = Lot.objects.in_bulk({lot for lot, _ in rows})
        good = {pk for pk, lot in lots.items() if lot.use_by is None or lot.use_by >= p.ends.date()}
        return sum(store for lot, store in rows if lot in good)

    def what(self, pk, item) -> dict:
        return {"reservation": Reservation.objects.get(pk=pk), "item": Item.objects.get(pk=item)}

    def moved(self, pk, item, quantity) -> None:
        p = self.model.promises[pk]
        p.moved.add(item)
        for count in (p.picked, p.out, p.taken):
            count[item] += quantity
        self.model.store[item] -= quantity

    def carried_off_untimely(self, item, p) -> bool:
        """Early, it may be what another event was to have before an order comes; and what is fetched for an event that
        is over, though it comes back, was free for others again."""
        late = p.ends <= self.now and self.model.returnable[item]
        return bool(self.expects(item) or self.lacked[item] or p.starts > self.now or late)

    def expects(self, item) -> bool:
        return Lot.objects.filter(item=item, received=False).exists()

    # --- what must be so whatever was done

    @invariant()
    def the_ledgers_sum_is_what_lies_there(self) -> None:
        store, lots, out = Counter(), Counter(), Counter()
        for item, lot, by, there, away in Movement.objects.values_list(
            "item_id", "lot_id", "reservation_id", "store", "out"
        ):
            store[item] += there
            lots[lot] += there
            out[by, lot] += away
        assert all(quantity >= 0 for quantity in [*lots.values(), *out.values()])
        ids = [item.pk for item in self.items]
        unsigned = Movement.objects.exclude(kind=Movement.Kind.RECEIVED).exclude(by=self.by)
        assert not unsigned.exists(), "something was moved and nobody signed it"
        assert +store == +self.model.store
        assert ledger.on_hand(ids) == {pk: self.model.store[pk] for pk in ids}

    @invariant()
    def no_promise_is_worse_off_unless_somebody_signed_it(self) -> None:
        ids = [item.pk for item in self.items]
        stock = availability.stock_of(ids, now=self.now, starts=self.now)
        lines = {}
        for pk in ids:
            deficit, hurt = self.model.deficit(pk, self.now), self.model.deficit(pk, self.now, coming=True)
            if pk in self.lowered and pk not in self.may_worsen:
                # Fewer are here than was thought: who is over and used what it had may lack them, but nobody who comes.
                assert hurt <= self.hurt[pk], f"{self.hurt[pk]} were lacking, {hurt} now"
            elif pk not in self.may_worsen:
                assert deficit <= self.lacked[pk], f"{self.lacked[pk]} were lacking, {deficit} now"
            lacking = stocking.lacking_of(stock[pk], self.now)
            assert bool(lacking) <= bool(deficit), "a shortage is told that is none"
            if not stock[pk].returnable:
                assert sum(stock[pk].lacking().values()) == deficit
            self.lacked[pk], self.hurt[pk] = deficit, hurt
            lines |= lacking
        self.may_worsen.clear()
        self.lowered.clear()
        self.lines = lines

    @invariant()
    def what_is_over_reserves_nothing(self) -> None:
        gone = {pk for pk, p in self.model.promises.items() if not p.live(self.now)}
        assert not ReservationLine.objects.filter(availability.live(self.now), reservation__in=gone).exists()
        states = dict(Reservation.objects.values_list("pk", "state"))
        assert states == {pk: p.state for pk, p in self.model.promises.items()}

    @invariant()
    def the_promises_are_those_that_were_made(self) -> None:
        kept = {}
        for by, item, quantity, counts in ReservationLine.objects.values_list(
            "reservation_id", "item_id", "quantity", "counts"
        ):
            kept[by, item] = (quantity, counts)
        made = {
            (pk, item): (quantity, p.state != "released" and item not in p.over)
            for pk, p in self.model.promises.items()
            for item, quantity in p.lines.items()
        }
        assert kept == made
