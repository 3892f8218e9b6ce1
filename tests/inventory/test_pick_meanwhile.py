"""A list that somebody changed while it lay open on another's phone: what is tapped there is answered in words."""

import pytest

from inventory import returning, services
from inventory.models import Reservation
from tests.inventory.store_work import here, out, promise, stocked
from tests.inventory.test_pick_pages import at, tick, words

pytestmark = pytest.mark.django_db
NOT_NEEDED = "The event does not need this any more. Leave it on the shelf."
GIVEN_UP = "The event gave its things up, so nothing is picked for it any more."


@pytest.fixture
def fair(sky, pole):
    return promise({stocked(sky, 300): 120, stocked(pole, 8): 4})


def came_back(client, reservation, **fields):
    return client.post(at("return-tick", reservation.pk), fields, follow=True)


def test_what_the_event_needs_no_more_is_left_on_the_shelf(as_planner, fair, sky, pole):
    services.reservation_change(reservation=fair, lines=[(pole.pk, 4)], starts=fair.starts, ends=fair.ends)
    for answer in (tick(as_planner, fair, all=sky.pk), tick(as_planner, fair, fewer=sky.pk, total=5)):
        assert answer.status_code == 422 and NOT_NEEDED in words(answer)
    assert here(sky) == 300


def test_of_an_event_that_gave_its_things_up_nothing_is_picked(as_planner, fair, sky):
    services.reservation_release(reservation=fair)
    answer = tick(as_planner, fair, all=sky.pk)
    assert answer.status_code == 422 and GIVEN_UP in words(answer)
    assert here(sky) == 300


def test_what_is_on_hold_again_says_why_it_is_not_ticked(as_planner, fair, sky):
    Reservation.objects.filter(pk=fair.pk).update(state=Reservation.State.HOLD)
    answer = tick(as_planner, fair, all=sky.pk)
    assert "The event is only on hold. Have it confirmed, then tick it." in words(answer)


@pytest.mark.parametrize("fields", [{"item": True}, {"taken": True}, {"undo": True}])
def test_what_came_back_is_not_counted_for_what_was_given_up(as_planner, fair, sky, fields):
    services.reservation_release(reservation=fair)
    answer = came_back(as_planner, fair, **dict.fromkeys(fields, sky.pk))
    assert answer.status_code == 422 and answer.context["wrong"] in words(answer)
    assert here(sky) == 300


def test_an_item_that_is_gone_from_the_list_is_not_counted_back(as_planner, fair, sky, pole):
    services.reservation_change(reservation=fair, lines=[(pole.pk, 4)], starts=fair.starts, ends=fair.ends)
    answer = came_back(as_planner, fair, taken=sky.pk)
    assert answer.status_code == 422 and NOT_NEEDED in words(answer)


def test_the_rest_as_planned_after_somebody_counted_all_of_it(as_planner, fair, sky):
    tick(as_planner, fair, all=sky.pk)
    returning.count_back(reservation=fair, item=sky, ways=returning.Ways(burst=3))
    answer = came_back(as_planner, fair, all=1)
    assert answer.status_code == 200 and out(fair, sky) == 0
    assert fair.movements.filter(kind="burst").count() == 1


def test_settled_as_planned_only_while_it_is_confirmed(as_planner, sky):
    over = promise({stocked(sky, 300): 120}, starts_in=-5)
    services.reservation_release(reservation=over)
    with pytest.raises(ValueError, match="not confirmed"):
        returning.settle_as_planned(reservation=over)
    answer = as_planner.post(at("settle", over.pk))
    assert answer.status_code == 409 and "It is released." in words(answer)
    assert here(sky) == 300
