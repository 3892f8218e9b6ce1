import re
from decimal import Decimal

from django.urls import reverse

from inventory.models import Hardware, Item, Latex
from inventory.services import reservation_release
from tests.inventory.conftest import on_shelf
from tests.inventory.test_item_add import BUYING, HARDWARE, LATEX
from tests.inventory.test_reservation_hold import hold


def send(client, item, good, **changes):
    given = {k: v for k, v in {**good, **BUYING, **changes}.items() if v is not None}
    return client.post(reverse("inventory:item-change", args=[item.pk]), given)


def test_the_form_comes_filled(as_planner, sky):
    text = as_planner.get(reverse("inventory:item-change", args=[sky.pk])).content.decode()
    assert 'value="Estuary Latex"' in text
    (picked,) = re.findall(r"<input[^>]* checked[^>]*>", text)
    assert 'value="#7db3d8"' in picked


def test_changed_and_renamed_by_what_it_is(as_planner, sky):
    answer = send(as_planner, sky, LATEX, colour="pale blue", near="#b7d7ec", pack_price="7,10")
    assert answer["Location"] == reverse("inventory:item", args=[sky.pk])
    latex = Latex.objects.get()
    assert (latex.name, latex.rgb, latex.pack_price) == ("5 in pale blue", "#b7d7ec", Decimal("7.10"))


def test_saving_it_unchanged_is_no_clash_with_itself(as_planner, sky):
    assert send(as_planner, sky, LATEX).status_code == 302


def test_not_made_the_same_as_another(as_planner, sky, red):
    answer = send(as_planner, red, LATEX)
    assert answer.status_code == 422
    assert "There is already an item “5 in sky”." in answer.content.decode()


def test_coming_back_can_not_change_under_a_promise(as_planner, pole):
    on_shelf(pole, 4)
    held = hold([(pole.pk, 4)], label="Harbour fair")
    answer = send(as_planner, pole, HARDWARE, returnable=None)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "It is promised, so this can&#x27;t change now." in text and "Harbour fair" in text
    assert Hardware.objects.get().returnable
    reservation_release(reservation=held)
    assert send(as_planner, pole, HARDWARE, returnable=None).status_code == 302
    assert not Hardware.objects.get().returnable


def test_other_things_may_change_under_a_promise(as_planner, pole):
    on_shelf(pole, 4)
    hold([(pole.pk, 4)])
    assert send(as_planner, pole, HARDWARE, name="Pole, two metres").status_code == 302
    assert Item.objects.get().name == "Pole, two metres"


def test_not_for_crew_nor_for_nobody(as_crew, as_nobody, sky):
    for client, status in ((as_crew, 403), (as_nobody, 302)):
        assert send(client, sky, LATEX, colour="mud").status_code == status
        assert Latex.objects.get().colour == "sky"
