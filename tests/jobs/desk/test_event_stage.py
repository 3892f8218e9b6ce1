from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.models import Lot, Reservation
from inventory.services import reservation_hold
from jobs.crew.models import DayHold
from jobs.events.models import Event, Stage
from jobs.events.services import STEPS, NotThatStage, event_stage_set
from tests.jobs.desk.conftest import coming


def to(client, event, stage):
    return client.post(f"/events/{event.pk}/stage/", {"stage": stage})


def test_every_stage_has_a_way_on_and_no_way_into_a_promise():
    """Quoted and confirmed mean a proof and a promise; nobody may say them without making them."""
    assert set(STEPS) == set(Stage)
    assert not any(Stage.QUOTED in steps for steps in STEPS.values())
    assert [s for s, steps in STEPS.items() if Stage.CONFIRMED in steps] == [Stage.IN_PRODUCTION]


def test_the_page_offers_what_can_follow(as_planner, event):
    page = as_planner.get(f"/events/{event.pk}/stage/").content.decode()
    assert 'value="lost"' in page and 'value="installed"' not in page


def test_the_way_from_confirmed_to_closed(as_planner, event):
    Event.objects.filter(pk=event.pk).update(stage=Stage.CONFIRMED)
    for stage in ("in production", "installed", "struck", "closed"):
        assert to(as_planner, event, stage).url == f"/events/{event.pk}/"
        event.refresh_from_db()
        assert event.stage == stage


def test_a_stage_that_cannot_follow_is_refused(as_planner, event):
    for stage in ("installed", "confirmed", "nonsense", ""):
        assert to(as_planner, event, stage).status_code == 409
    event.refresh_from_db()
    assert event.stage == Stage.ENQUIRY
    with pytest.raises(NotThatStage):
        event_stage_set(event=event, stage=Stage.CLOSED)


@pytest.mark.parametrize("before, stage", [(Stage.ENQUIRY, "lost"), (Stage.CONFIRMED, "cancelled")])
def test_called_off_gives_stock_and_hours_back(as_planner, event, stock, before, stage):
    _, sky = stock
    Lot.objects.create(item=sky, quantity=500, arrives_on=coming(-5))
    expires = timezone.now() + timedelta(hours=1)
    hold = reservation_hold(
        lines=[(sky.pk, 400)], starts=event.load_in, ends=event.strike, label="held", expires=expires
    )
    Event.objects.filter(pk=event.pk).update(reservation=hold, stage=before)
    DayHold.objects.create(event=event, starts=event.load_in, ends=event.strike, people=2)
    assert to(as_planner, event, stage).status_code == 302
    hold.refresh_from_db()
    assert hold.state == Reservation.State.RELEASED and not DayHold.objects.exists()
    assert to(as_planner, event, "enquiry").status_code == 302, "and may be taken up again"


def test_who_may_say_it(as_crew, as_nobody, event):
    assert to(as_crew, event, "lost").status_code == 403
    assert to(as_nobody, event, "lost").url.startswith("/sign-in/")
    event.refresh_from_db()
    assert event.stage == Stage.ENQUIRY
