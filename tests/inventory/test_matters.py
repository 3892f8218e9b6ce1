"""What in the store needs somebody: all on one page, the most urgent first, each with its one act."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import BackgroundJob, Mail
from inventory.matters import SECTIONS, matters, pressing, pressing_words
from inventory.models import Item, Latex, Lot, Order, Reservation, ReservationLine
from inventory.picking import pick, pick_short
from inventory.services import reservation_confirm, reservation_hold
from tests.inventory.conftest import on_shelf
from tests.inventory.test_buying import beyond, need, promised
from tests.inventory.test_order_pages import text_of
from tests.inventory.test_ordering import due, sent
from tests.shelf import lost

pytestmark = pytest.mark.usefixtures("studio")


def found(now=None) -> list:
    return matters(now=now or timezone.now())


def kinds(now=None) -> list[str]:
    return [one.kind for one in found(now)]


def over(held: Reservation, days: int = 2) -> Reservation:
    """The same promise, as if it had been for days that are past."""
    span = {"starts": timezone.now() - timedelta(days=days + 1), "ends": timezone.now() - timedelta(days=days)}
    Reservation.objects.filter(pk=held.pk).update(**span)
    ReservationLine.objects.filter(reservation=held).update(**span)
    held.refresh_from_db()
    return held


def test_nothing_needs_anybody(as_planner, sky):
    on_shelf(sky, 100)
    promised(sky, 50, in_days=7, label="Harbour fair")
    assert found() == []
    text = text_of(as_planner.get(reverse("inventory:matters")))
    assert "Nothing needs anybody." in text and 'class="btn"' not in text


def test_a_short_pick_is_the_first_thing(sky):
    on_shelf(sky, 100)
    held = promised(sky, 80, in_days=20, label="Harbour fair")
    pick(reservation=held, item=sky, quantity=30)
    pick_short(reservation=held, item=sky)
    (one,) = found()
    assert one.kind == "near" and one.says == "5 in sky: 50 short for Harbour fair"
    assert one.small.startswith("picked for already")


def test_short_for_an_event_that_is_near_and_for_later_ones(sky):
    lot = on_shelf(sky, 500)
    for days, label in ((2, "Tomorrow's fair"), (9, "Choir jubilee"), (12, "Regatta supper")):
        promised(sky, 150, in_days=days, label=label)
    lost(lot, 450)
    near, later = found()
    assert (near.kind, near.says) == ("near", "5 in sky: 100 short for Tomorrow's fair")
    assert (later.kind, later.says) == ("short", "5 in sky: 300 short")
    assert "Choir jubilee" in later.small and "1 more event" in later.small
    assert later.href == reverse("inventory:buy")


def test_holds_that_lapse_within_two_days(sky):
    on_shelf(sky, 100)
    now = timezone.now()
    for label, hours in (("Soon", 5), ("In time", 72)):
        starts = now + timedelta(days=30)
        reservation_hold(
            lines=[(sky.pk, 10)], starts=starts, ends=starts + timedelta(days=1), label=label,
            expires=now + timedelta(hours=hours),
        )  # fmt: skip
    assert [(one.kind, one.says) for one in found()] == [("hold", "Soon")]
    assert kinds(now + timedelta(hours=6)) == []
    assert kinds(now + timedelta(hours=30)) == ["hold"]


def test_returnables_that_are_not_back_come_before_what_is_only_not_counted(sky, pole):
    on_shelf(sky, 100)
    on_shelf(pole, 6)
    with_poles = promised(pole, 4, in_days=1, label="Harbour fair")
    pick(reservation=with_poles, item=pole, quantity=4)
    over(with_poles)
    over(promised(sky, 50, in_days=1, label="Choir jubilee"), days=5)
    back, uncounted = found()
    assert (back.kind, back.says, back.do) == ("back", "Harbour fair", "Count back")
    assert "4 things are out" in back.small
    assert (uncounted.kind, uncounted.says) == ("over", "Choir jubilee")
    assert back.href == reverse("inventory:return", args=[with_poles.pk])


def test_a_hold_that_lapsed_unused_is_no_event_to_count(sky):
    on_shelf(sky, 100)
    held = promised(sky, 50, in_days=1, label="Never was", confirmed=False)
    Reservation.objects.filter(pk=held.pk).update(expires=timezone.now() - timedelta(days=3))
    over(held)
    assert found() == []


def test_late_orders_and_late_lots(sky):
    order = sent(packs={sky.pk: 2})
    Order.objects.filter(pk=order.pk).update(due_on=due(-2))
    Lot.objects.filter(order_line__order=order).update(arrives_on=due(-2))
    loose = Lot.objects.create(item_id=sky.pk, quantity=100, arrives_on=due(-1), received=False)
    first, second = found()
    assert (first.kind, first.href) == ("order", reverse("inventory:order-due", args=[order.pk]))
    assert (second.kind, second.href) == ("order", reverse("inventory:lot-change", args=[loose.pk]))


def test_to_be_used_within_sixty_days_or_past_it(sky):
    today = timezone.localdate()
    for days, quantity in ((-3, 10), (59, 20), (61, 30)):
        on_shelf(sky, quantity, use_by=today + timedelta(days=days))
    past, soon = found()
    assert (past.says, past.do) == ("5 in sky: 10 pieces", "Take them away")
    assert (soon.says, soon.do) == ("5 in sky: 20 pieces", "See its lots")


def test_how_long_before_its_day_is_the_studios_to_say(as_owner, studio, sky):
    today = timezone.localdate()
    on_shelf(sky, 100, use_by=today + timedelta(days=200))
    lot = on_shelf(sky, 100)
    promised(sky, 180, in_days=9, label="Harbour fair")
    lost(lot, 100)
    assert kinds() == ["short"] and pressing(now=timezone.now()) == []
    form = as_owner.get(reverse("studio:settings")).context["form"]
    kept = {name: form[name].value() for name in form.fields}
    assert (kept["near_days"], kept["use_by_days"]) == (3, 60)
    for wrong in ({"near_days": 0}, {"near_days": 61}, {"use_by_days": 731}, {"use_by_days": -1}):
        assert as_owner.post(reverse("studio:settings"), {**kept, **wrong}).status_code == 422
    answer = as_owner.post(reverse("studio:settings"), {**kept, "near_days": 10, "use_by_days": 201})
    assert answer.status_code == 302
    assert kinds() == ["near", "use-by"] and [one.kind for one in pressing(now=timezone.now())] == ["near"]
    text = text_of(as_owner.get(reverse("jobs:today")))
    assert "1 short for a near event" in text
    as_owner.post(reverse("studio:settings"), {**kept, "use_by_days": 0})
    assert kinds() == ["short"]


def test_below_its_level(sky, pole):
    Item.objects.filter(pk=sky.pk).update(reorder_level=300)
    Item.objects.filter(pk=pole.pk).update(reorder_level=6)
    on_shelf(sky, 250)
    on_shelf(pole, 6)
    (one,) = found()
    assert one.kind == "level" and one.small == "250 free, to be ordered again below 300"


def test_everything_in_its_order_with_one_act_for_each(as_planner, as_crew, sky, red, pole, monkeypatch):
    today = timezone.localdate()
    beyond(monkeypatch, need(pole, 1, in_days=6, label="Wants one more pole, and it is there"))
    on_shelf(red, 20, use_by=today + timedelta(days=9))
    Item.objects.filter(pk=red.pk).update(reorder_level=100)
    on_shelf(pole, 6)
    poles = promised(pole, 4, in_days=1, label="Harbour fair")
    pick(reservation=poles, item=pole, quantity=4)
    over(poles)
    lot = on_shelf(sky, 400)
    promised(sky, 100, in_days=2, label="Near one")
    promised(sky, 300, in_days=10, label="Later one")
    lost(lot, 350)
    now = timezone.now()
    starts = now + timedelta(days=30)
    reservation_hold(
        lines=[(pole.pk, 1)], starts=starts, ends=starts + timedelta(1), label="Held", expires=now + timedelta(hours=5)
    )
    over(reservation_confirm(reservation=promised(red, 5, in_days=2, label="Not counted")))
    order = sent(packs={sky.pk: 1})
    Order.objects.filter(pk=order.pk).update(due_on=due(-2))
    Lot.objects.filter(order_line__order=order).update(arrives_on=due(-2))
    letter = Mail.objects.create(key=f"order {order.number} 1", to="orders@estuary.example", subject="x", text="x")
    BackgroundJob.objects.create(kind="mail", subject_id=letter.pk, state=BackgroundJob.State.FAILED)
    assert kinds() == list(SECTIONS)
    told = pressing(now=timezone.now())
    assert told == [one for one in found() if one.kind in {"near", "letter", "order"}]
    assert pressing_words(told) == "1 short for a near event, 1 order not sent, 1 order late"
    text = text_of(as_planner.get(reverse("inventory:matters")))
    assert text.index("Short for an event that is near") < text.index("Below its level")
    for words in ("Give it a new day", "Count back", "Say what was used", "See its lots", "See what to buy"):
        assert words in text
    assert as_crew.get(reverse("inventory:matters")).status_code in {403, 404}


def test_as_many_queries_for_sixty_things_as_for_six(as_planner, sky, pole):
    def more(number: int) -> None:
        item = Latex.objects.create(
            kind=Item.Kind.LATEX, name=f"5 in shade {number}", nominal_in=5, colour=f"shade {number}",
            rgb="#7db3d8", reorder_level=900,
        )  # fmt: skip
        lot = on_shelf(item, 60, use_by=timezone.localdate() + timedelta(days=30))
        promised(item, 60, in_days=2 + number, label=f"Event {number}")
        lost(lot, 30)
        held = promised(pole, 1, in_days=3, label=f"Out {number}")
        pick(reservation=held, item=pole, quantity=1)
        over(held)

    on_shelf(pole, 100)
    page = reverse("inventory:matters")
    more(0)
    with CaptureQueriesContext(connection) as few:
        as_planner.get(page)
    for number in range(1, 10):
        more(number)
    with CaptureQueriesContext(connection) as many:
        assert as_planner.get(page).context["count"] >= 30
    # Four of these ask for sums, in place of every line that is promised.
    assert len(many) <= len(few) and len(many) <= 25, (len(few), len(many))
