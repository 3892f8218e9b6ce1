from django.urls import reverse

from inventory.models import Item
from inventory.services import reservation_release
from tests.inventory.conftest import on_shelf
from tests.inventory.test_reservation_hold import hold


def stop(client, item):
    return client.post(reverse("inventory:item-stop", args=[item.pk]))


def test_it_leaves_the_list_and_can_come_back(as_planner, sky):
    on_shelf(sky, 10)
    assert stop(as_planner, sky)["Location"] == reverse("inventory:stock")
    assert not Item.objects.get().active
    text = as_planner.get(reverse("inventory:stock")).content.decode()
    assert "Balloons, 5 in" not in text and "No longer used (1)" in text
    text = as_planner.get(reverse("inventory:item", args=[sky.pk])).content.decode()
    assert "Use it again" in text
    as_planner.post(reverse("inventory:item-use-again", args=[sky.pk]))
    assert Item.objects.get().active


def test_refused_while_it_is_promised(as_planner, sky):
    on_shelf(sky, 10)
    held = hold([(sky.pk, 3)], label="Harbour fair")
    answer = stop(as_planner, sky)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "It can't be put out of use yet." in text and "Harbour fair" in text
    assert Item.objects.get().active
    reservation_release(reservation=held)
    assert stop(as_planner, sky).status_code == 302


def test_looking_changes_nothing(as_planner, sky):
    for name in ("inventory:item-stop", "inventory:item-use-again"):
        assert as_planner.get(reverse(name, args=[sky.pk])).status_code == 405
    assert Item.objects.get().active


def test_not_for_crew_nor_for_nobody(as_crew, as_nobody, sky):
    assert stop(as_crew, sky).status_code == 403
    assert stop(as_nobody, sky).status_code == 302
    assert Item.objects.get().active
    assert as_crew.post(reverse("inventory:item-use-again", args=[sky.pk])).status_code == 403
