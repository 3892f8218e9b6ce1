"""The page of a promise that no event tells of: what it holds, until when, and its acts."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import AuditLine
from inventory import availability
from inventory.holds import holds_ending
from inventory.matters import matters
from inventory.models import Reservation
from inventory.picking import pick
from tests.inventory.conftest import on_shelf
from tests.inventory.test_buying import promised
from tests.inventory.test_order_pages import text_of
from tests.shelf import lost

pytestmark = pytest.mark.usefixtures("studio")


def at(name: str, held: Reservation) -> str:
    return reverse(f"inventory:{name}", args=[held.pk])


@pytest.fixture
def held(sky) -> Reservation:
    """A hold for which nobody knows an event, which ends in a day."""
    on_shelf(sky, 100)
    row = promised(sky, 80, in_days=9, label="Window for the baker", confirmed=False)
    Reservation.objects.filter(pk=row.pk).update(expires=timezone.now() + timedelta(hours=23))
    row.refresh_from_db()
    return row


def free(item) -> int:
    starts = timezone.now() + timedelta(days=9)
    return availability.free([item.pk], starts, starts + timedelta(hours=5))[item.pk]


def lapse(held: Reservation) -> None:
    Reservation.objects.filter(pk=held.pk).update(expires=timezone.now() - timedelta(hours=1))


def test_wherever_it_is_told_it_leads_to_its_page(as_planner, held, sky):
    (matter,) = matters(now=timezone.now())
    assert (matter.do, matter.href) == ("Confirm it or let go", at("promise", held))
    assert holds_ending(now=timezone.now())[0].href == at("promise", held)
    assert f'href="{at("promise", held)}"' in text_of(as_planner.get(reverse("inventory:item", args=[sky.pk])))
    text = text_of(as_planner.get(at("promise", held)))
    assert "Window for the baker" in text and "Held until" in text and "5 in sky" in text and "<b>80</b>" in text
    assert "Confirm it" in text and "Let it go" in text and "Hold for 72 hours from now" in text


def test_it_is_confirmed_held_longer_and_let_go(as_planner, held, sky):
    as_planner.post(at("promise-longer", held))
    held.refresh_from_db()
    assert held.state == "hold" and held.expires > timezone.now() + timedelta(hours=71) and free(sky) == 20
    assert "All of it is reserved." in text_of(as_planner.post(at("promise-confirm", held), follow=True))
    held.refresh_from_db()
    assert held.state == "confirmed"
    text = text_of(as_planner.post(at("promise-release", held), follow=True))
    assert "nothing is kept for it any more" in text and "Let it go" not in text and free(sky) == 100
    # What is let go is neither held nor confirmed by a page that was still open.
    for name in ("promise-longer", "promise-confirm"):
        assert as_planner.post(at(name, held)).url == at("promise", held)
    held.refresh_from_db()
    assert held.state == "released"
    told = list(AuditLine.objects.order_by("pk").values_list("act", flat=True))
    assert told[-3:] == ["held longer", "confirmed a promise", "let a promise go"]


def test_one_that_lapsed_is_promised_again_only_if_it_is_free(as_planner, held, sky):
    lapse(held)
    promised(sky, 50, in_days=9, label="Harbour fair")
    text = text_of(as_planner.get(at("promise", held)))
    assert "The hold lapsed" in text and "Promise it all the same" in text
    for name in ("promise-confirm", "promise-longer"):
        answer = as_planner.post(at(name, held))
        assert answer.status_code == 409 and "Nothing is changed: short of 30 of 5 in sky." in text_of(answer)
    held.refresh_from_db()
    assert held.state == "hold" and held.expires < timezone.now()


def test_what_is_out_is_counted_back_first(as_planner, held, sky):
    as_planner.post(at("promise-confirm", held))
    held.refresh_from_db()
    pick(reservation=held, item=sky, quantity=10)
    answer = as_planner.post(at("promise-release", held))
    assert answer.status_code == 409 and "10 pieces are out with it. Count back" in text_of(answer)


def test_what_it_lacks_is_said(as_planner, sky):
    lot = on_shelf(sky, 80)
    row = promised(sky, 80, in_days=9, label="Window for the baker")
    lost(lot, 30)
    assert "30 of them are short" in text_of(as_planner.get(at("promise", row)))


def test_not_for_crew_and_no_ghosts(as_crew, as_planner, held):
    assert as_crew.get(at("promise", held)).status_code == 403
    assert as_crew.post(at("promise-release", held)).status_code == 403
    assert as_planner.get(reverse("inventory:promise", args=[9999])).status_code == 404
