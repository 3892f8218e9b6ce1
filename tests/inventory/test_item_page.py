from datetime import timedelta

from django.urls import reverse
from django.utils import timezone

from inventory import availability
from inventory.lots_shown import lot_lines
from inventory.models import Cylinder, Item, Lot, Sheet
from inventory.services import reservation_confirm
from tests.inventory.conftest import on_shelf
from tests.inventory.test_reservation_hold import START, hold
from tests.shelf import lost


def page(client, item) -> str:
    answer = client.get(reverse("inventory:item", args=[item.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_an_item_with_nothing(as_planner, sky):
    text = page(as_planner, sky)
    assert "None here and none on order." in text
    assert "None yet. A lot is one delivery" in text
    assert "Nobody from today on." in text
    assert reverse("inventory:lot-new", args=[sky.pk]) in text


def test_what_is_free_promised_and_expected(as_planner, sky):
    on_shelf(sky, 400)
    due = timezone.localdate() + timedelta(days=20)
    Lot.objects.create(item_id=sky.pk, quantity=300, arrives_on=due, received=False)
    reservation_confirm(reservation=hold([(sky.pk, 226)], label="Harbour fair"))
    hold([(sky.pk, 14)], label="Choir jubilee")
    text = page(as_planner, sky)
    # the order comes before either promise, and covers both
    assert "400 free" in text
    assert "Harbour fair" in text and "Choir jubilee" in text and "Hold to" in text
    assert f"300 on {due:%a} {due.day} {due:%B}" in text
    assert "100 for €6.20" in text


def test_a_shortage_says_what_to_order_by_when_and_fills_it(as_planner, sky):
    lot = on_shelf(sky, 226)
    hold([(sky.pk, 226)], label="Harbour fair")
    lost(lot, 126)
    by = timezone.localdate(START) - timedelta(days=5)
    text = page(as_planner, sky)
    assert "126 short from" in text
    assert f"Order 2 packs by {by:%a} {by.day} {by:%B}" in text
    assert "Order 2 packs of sky" in text
    assert f"{reverse('inventory:item-order', args=[sky.pk])}?packs=2" in text
    assert '<rect class="short"' in text and "126 short on" in text
    assert "€12.40" in text


def test_a_shortage_too_near_for_an_order_says_so(as_planner, sky):
    soon = timezone.now() + timedelta(days=2)
    lot = on_shelf(sky, 226)
    hold([(sky.pk, 226)], starts=soon, ends=soon + timedelta(days=1))
    lost(lot, 126)
    assert "it would come too late" in page(as_planner, sky)


def words_of(day) -> str:
    return f"{day:%a} {day.day} {day:%B}" + (f" {day:%Y}" if day.year != timezone.localdate().year else "")


def test_too_late_for_one_event_and_in_time_for_another(as_planner, sky):
    lot, now = on_shelf(sky, 287), timezone.now()
    later = now + timedelta(days=16)
    fair = hold([(sky.pk, 257)], starts=now - timedelta(hours=1), ends=now + timedelta(days=1))
    reservation_confirm(reservation=fair)
    hold([(sky.pk, 30)], starts=later, ends=later + timedelta(days=1))
    lost(lot, 87)
    text = page(as_planner, sky)
    assert f"87 short from {words_of(timezone.localdate(now))}." in text
    assert "An order takes 5 days, so it would come too late for 57: borrow, swap or ask for speed." in text
    by = words_of(later.date() - timedelta(days=5))
    assert f"For the 30 short from {words_of(timezone.localdate(later))} it is in time if it is sent by {by}." in text


def test_poles_that_two_events_lack_are_not_added_up(as_planner, pole):
    type(pole).objects.filter(pk=pole.pk).update(lead_days=5)
    lot, soon, later = on_shelf(pole, 10), START - timedelta(days=29), START - timedelta(days=10)
    for starts, quantity in ((soon, 10), (later, 8), (later + timedelta(days=3), 9)):
        hold([(pole.pk, quantity)], starts=starts, ends=starts + timedelta(days=2))
    lost(lot, 4)
    text = page(as_planner, pole)
    assert "4 short from " in text and "too late for 4: borrow" in text
    assert f"For the 3 short from {words_of(timezone.localdate(later))} it is in time" in text


def test_an_overdue_order_says_that_it_does_not_count(as_planner, sky):
    was_due = timezone.localdate() - timedelta(days=3)
    Lot.objects.create(item_id=sky.pk, quantity=300, arrives_on=was_due, received=False)
    text = page(as_planner, sky)
    assert "is not here, so it counts for nothing" in text and "0 free" in text and "It is here" in text
    assert f"300, due on {words_of(was_due)}</span><small>late, so it counts for nothing" in text
    assert "if it arrives" not in text and "nothing on order" not in text
    Lot.objects.create(item_id=sky.pk, quantity=20, arrives_on=timezone.localdate() + timedelta(days=4), received=False)
    text = page(as_planner, sky)
    assert text.index("<small>if it arrives") < text.index("late, so it counts for nothing")


def test_used_up_lots_are_kept_out_of_the_way(as_planner, sky):
    on_shelf(sky, 50)
    past = timezone.now() - timedelta(days=9)
    reservation_confirm(reservation=hold([(sky.pk, 50)], starts=past, ends=past + timedelta(days=1)))
    text = page(as_planner, sky)
    assert "Used up (1)" in text and "All used up." in text


def test_a_lot_that_is_set_aside_for_an_event_under_way_is_not_used_up(as_planner, sky):
    older, newer = on_shelf(sky, 50, batch="older"), on_shelf(sky, 90, batch="newer")
    begun = timezone.now() - timedelta(days=1)
    for starts, days, quantity in ((begun, 3, 70), (begun - timedelta(days=9), 1, 10)):
        made = hold([(sky.pk, quantity)], starts=starts, ends=starts + timedelta(days=days))
        reservation_confirm(reservation=made)
    now = timezone.now()
    stock = availability.stock_of([sky.pk], now=now, starts=now)[sky.pk]
    lines = {line.lot.pk: line for line in lot_lines(sky, stock, now, "EUR")}
    words = "of them for events under way, not ticked as picked"
    # The ten of the event that is over were the oldest ones.
    assert (lines[older.pk].left, lines[older.pk].small) == (40, (f"all {words}",))
    assert (lines[newer.pk].left, lines[newer.pk].small) == (90, (f"30 {words}",))
    text = page(as_planner, sky)
    assert "Used up" not in text and f"All {words}" in text


def test_every_kind_has_its_facts(as_planner, pole):
    sheet = Sheet.objects.create(
        kind=Item.Kind.SHEET,
        name="Square sheet",
        rows=22,
        columns=13,
        pitch_m=0.127,
        row_pitch_m=0.11,
        sized_diameter_m=0.119,
    )
    gas = Cylinder.objects.create(kind=Item.Kind.CYLINDER, name="Big one", water_volume_l=50, pressure_bar=200)
    text = page(as_planner, sheet)
    assert "13 wide, 22 high" in text and "127 mm from cell to cell, 110 mm from row to row" in text
    assert "50 litres of water, 200 bar when full" in page(as_planner, gas)
    assert "comes back after an event" in page(as_planner, pole)


def test_lengths_in_inches_for_a_studio_that_works_in_feet(as_planner, studio):
    studio.units = "imperial"
    studio.save()
    sheet = Sheet.objects.create(
        kind=Item.Kind.SHEET, name="Square sheet", rows=22, columns=13, pitch_m=0.127, sized_diameter_m=0.1194
    )
    text = page(as_planner, sheet)
    assert "5 in from cell to cell" in text and "sized to 4.7 in" in text


def test_not_for_crew_nor_for_nobody_and_no_ghosts(as_crew, as_planner, as_nobody, sky):
    address = reverse("inventory:item", args=[sky.pk])
    assert as_crew.get(address).status_code == 403
    assert as_nobody.get(address).status_code == 302
    assert as_planner.get(reverse("inventory:item", args=[9999])).status_code == 404
