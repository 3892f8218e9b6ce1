"""Under Today stands which holds end within two days."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import User
from inventory.models import Reservation
from jobs.events.models import Event
from tests.conftest import signed_in
from tests.walk import open_demo


@pytest.fixture
def event(db) -> Event:
    open_demo()
    event = Event.objects.live().filter(stage__in=["enquiry", "quoted"], reservation__isnull=False).first()
    assert event is not None
    return event


@pytest.fixture
def demo_owner(event):
    return signed_in(User.objects.get(username="olive"))


def end_in(event: Event, left: timedelta, **more: object) -> None:
    now = timezone.now()
    span = {"starts": now + timedelta(days=9), "ends": now + timedelta(days=12)}
    Reservation.objects.filter(pk=event.reservation_id).update(
        **{"state": "hold", "expires": now + left, **span, **more}
    )


def today(client) -> str:
    return client.get(reverse("jobs:today")).content.decode()


def test_a_hold_that_ends_soon_stands_there_once_with_the_way_to_it(demo_owner, event):
    end_in(event, timedelta(hours=47))
    text = today(demo_owner)
    head, _, rest = text.partition("Holds that end soon")
    assert rest, head[-300:]
    section = rest.partition("</section>")[0]
    assert event.title in section and reverse("jobs:event-stock", args=[event.pk]) in section
    assert "1 day 23 h left" in section


@pytest.mark.parametrize(
    "left, more", [(timedelta(days=3), {}), (timedelta(hours=-1), {}), (timedelta(hours=5), {"state": "confirmed"})]
)
def test_others_do_not(demo_owner, event, left, more):
    Reservation.objects.exclude(pk=event.reservation_id).update(expires=timezone.now() + timedelta(days=90))
    end_in(event, left, **more)
    assert "Holds that end soon" not in today(demo_owner)


def test_two_hours_before_it_warns(demo_owner, event):
    end_in(event, timedelta(minutes=119, seconds=30))
    section = today(demo_owner).partition("Holds that end soon")[2].partition("</section>")[0]
    assert 'class="state warn"' in section and "2 hours left" in section
