"""Eight processes, each with its own connection, receive one parcel and write orders at once."""

import pytest
from django.utils import timezone

from inventory.ledger import on_hand
from inventory.models import Lot, Movement, Order
from inventory.ordering import NotNow, order_cancel, order_send, orders_draft, stamp
from inventory.receiving import Came, order_receive
from inventory.stocking import PromisesBroken
from tests.inventory.conftest import on_shelf
from tests.inventory.test_buying import promised
from tests.inventory.test_last_stock_race import PROCESSES, in_eight_processes
from tests.inventory.test_ordering import due, lot_of, sent

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]


def receive(number: int, order_id: int, lot_id: int, seen: str) -> list[str]:
    try:
        order_receive(
            order=Order.objects.get(pk=order_id), came=[Came(lot_id, 200)], on=timezone.localdate(), rest_due=due(8),
            seen=seen,
        )  # fmt: skip
    except NotNow:
        return ["not now"]
    return ["received"]


@pytest.mark.parametrize("stamped", [True, False])
def test_one_parcel_is_received_once(sky, studio, stamped):
    order = sent(packs={sky.pk: 3})
    lot = lot_of(order)
    said = in_eight_processes(receive, order.pk, lot.pk, stamp(order) if stamped else "")
    assert said == {"received": 1, "not now": PROCESSES - 1}
    assert on_hand([sky.pk]) == {sky.pk: 200} and Movement.objects.count() == 1
    assert [one.quantity for one in Lot.objects.filter(received=False)] == [100]


def write_and_send(number: int, item_id: int) -> list[str]:
    order = orders_draft(packs={item_id: 1})[0]
    order_send(order=order, due_on=due())
    return [order.number]


def test_orders_written_at_once_have_numbers_of_their_own(sky, studio):
    said = in_eight_processes(write_and_send, sky.pk)
    assert sorted(said) == [f"B-{n:04d}" for n in range(1, PROCESSES + 1)] and set(said.values()) == {1}
    assert Lot.objects.filter(received=False).count() == PROCESSES


def come_or_go(number: int, order_id: int, lot_id: int) -> list[str]:
    """Half of them receive all of it, half cancel it."""
    order = Order.objects.get(pk=order_id)
    try:
        if number % 2:
            order_receive(order=order, came=[Came(lot_id, 300)], on=timezone.localdate(), rest_due=None)
            return ["received"]
        order_cancel(order=order)
    except (NotNow, PromisesBroken) as refusal:
        return [type(refusal).__name__]
    return ["cancelled"]


def test_received_or_cancelled_but_not_both(sky, studio):
    on_shelf(sky, 100)
    order = sent(packs={sky.pk: 3})
    promised(sky, 250, in_days=7, label="Harbour fair")
    lot = lot_of(order)
    said = in_eight_processes(come_or_go, order.pk, lot.pk)
    # the fair counts on it, so nobody may cancel it unasked
    assert said["received"] == 1 and not said["cancelled"]
    assert on_hand([sky.pk]) == {sky.pk: 400} and Order.objects.get().state == "done"
