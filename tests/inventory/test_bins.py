import pytest
from django.urls import reverse

from inventory.models import Bin, Item
from inventory.places import bin_of, natural


@pytest.fixture
def bins(db) -> list[Bin]:
    return [Bin.objects.create(name=name, position=at) for at, name in enumerate(["A1", "B2", "C3"], start=1)]


def order() -> list[str]:
    return list(Bin.objects.order_by("position").values_list("name", flat=True))


def test_a_bin_is_moved_by_one_and_to_a_place(as_planner, bins):
    move = reverse("inventory:bin-move", args=[bins[2].pk])
    assert as_planner.post(move, {"way": "up"}).status_code == 302
    assert order() == ["A1", "C3", "B2"]
    as_planner.post(move, {"way": "down"})
    as_planner.post(move, {"way": "down"})  # it is the last already
    assert order() == ["A1", "B2", "C3"]
    as_planner.post(reverse("inventory:bin-change", args=[bins[2].pk]), {"name": "C3", "position": "1"})
    assert order() == ["C3", "A1", "B2"]


def test_renamed_with_all_that_lies_in_it(as_planner, bins, sky):
    as_planner.post(reverse("inventory:bin-change", args=[bins[1].pk]), {"name": "Shelf 4", "position": "2"})
    sky.refresh_from_db()
    assert sky.bin == "Shelf 4" and order() == ["A1", "Shelf 4", "C3"]


@pytest.mark.parametrize(
    "name, says", [("a1", "There is a bin of that name already."), ("", "Fill this in."), ("x" * 21, "20")]
)
def test_a_name_that_will_not_do(as_planner, bins, name, says):
    answer = as_planner.post(reverse("inventory:bin-change", args=[bins[1].pk]), {"name": name, "position": "2"})
    assert answer.status_code == 422 and says in answer.content.decode()
    assert order() == ["A1", "B2", "C3"]


def test_only_an_empty_bin_is_taken_away(as_planner, bins, sky):
    for one in bins[1:]:
        as_planner.post(reverse("inventory:bin-remove", args=[one.pk]))
    assert order() == ["A1", "B2"]
    assert Item.objects.get(pk=sky.pk).bin == "B2"


def test_a_bin_shows_what_lies_in_it_and_crew_see_no_price(as_planner, as_crew, bins, sky):
    page = reverse("inventory:bin", args=[bins[1].pk])
    for client in (as_planner, as_crew):
        text = client.get(page).content.decode()
        assert "5 in sky" in text and "6.20" not in text
    assert "Nothing lies here." in as_planner.get(reverse("inventory:bin", args=[bins[0].pk])).content.decode()


def test_a_typed_code_leads_there(as_planner, bins, sky):
    page = reverse("inventory:bins")
    assert as_planner.get(page, {"code": "b2"})["Location"] == reverse("inventory:bin", args=[bins[1].pk])
    assert as_planner.get(page, {"code": str(sky.pk)})["Location"] == reverse("inventory:item", args=[sky.pk])
    answer = as_planner.get(page, {"code": "Q9"})
    assert answer.status_code == 404 and "No bin and no item has the code “Q9”." in answer.content.decode()


def test_a_bin_that_is_named_is_there(as_planner, bins, sky):
    assert bin_of(" a1 ") == bins[0]
    assert bin_of("D4").position == 4
    assert sorted(["A10", "A2", "Yard", "a1"], key=natural) == ["a1", "A2", "A10", "Yard"]


def test_bins_are_for_planners(as_crew, bins):
    assert as_crew.get(reverse("inventory:bins")).status_code == 403
    assert as_crew.post(reverse("inventory:bin-move", args=[bins[0].pk]), {"way": "down"}).status_code == 403
