import pytest
from django.urls import reverse

from inventory.models import Item, Order, Supplier
from inventory.places import supplier_of

FORM = {"name": "Estuary Latex", "email": "orders@estuary.example", "phone": "01632 960 700", "our_number": "K-118"}


@pytest.fixture
def estuary(sky) -> Supplier:
    return supplier_of("Estuary Latex")


def change(client, supplier: Supplier, **changed: str):
    return client.post(reverse("inventory:supplier-change", args=[supplier.pk]), {**FORM, **changed})


def test_renamed_with_all_that_is_bought_there_and_ordered(as_planner, estuary, sky, red):
    order = Order.objects.create(number="B-0001", supplier="estuary latex")
    Item.objects.filter(pk=red.pk).update(supplier="Other House")
    assert change(as_planner, estuary, name="  Estuary   & Sons ").status_code == 302
    for row in (sky, red, order, estuary):
        row.refresh_from_db()
    assert [sky.supplier, red.supplier, order.supplier] == ["Estuary & Sons", "Other House", "Estuary & Sons"]
    assert (estuary.email, estuary.phone, estuary.our_number) == ("orders@estuary.example", "01632 960 700", "K-118")
    text = as_planner.get(reverse("inventory:supplier", args=[estuary.pk])).content.decode()
    assert "5 in sky" in text and "B-0001" in text and "K-118" in text


@pytest.mark.parametrize(
    "changed, says",
    [
        ({"name": "other house"}, "There is a supplier of that name already."),
        ({"name": " "}, "Fill this in."),
        ({"name": "x" * 81}, "80"),
        ({"email": "orders@"}, "This is not an e-mail address"),
        ({"phone": "1" * 41}, "40"),
        ({"note": "x" * 201}, "200"),
    ],
)
def test_what_will_not_do_is_told_and_nothing_typed_is_lost(as_planner, estuary, sky, changed, says):
    supplier_of("Other House")
    answer = change(as_planner, estuary, **changed)
    assert answer.status_code == 422 and says in answer.content.decode()
    assert 'value="K-118"' in answer.content.decode()
    sky.refresh_from_db()
    assert sky.supplier == "Estuary Latex" and Supplier.objects.get(pk=estuary.pk).email == ""


def test_another_case_of_its_own_name_is_no_other_supplier(as_planner, estuary, sky):
    assert change(as_planner, estuary, name="ESTUARY latex").status_code == 302
    sky.refresh_from_db()
    assert sky.supplier == "ESTUARY latex" and Supplier.objects.count() == 1


def test_added_before_anything_is_bought_there(as_planner, db):
    answer = as_planner.post(reverse("inventory:supplier-new"), {"name": "Rope Walk Gas"})
    made = Supplier.objects.get()
    assert answer["Location"] == reverse("inventory:supplier", args=[made.pk])
    text = as_planner.get(reverse("inventory:suppliers")).content.decode()
    assert "Rope Walk Gas" in text and "No number yet" in text
    assert as_planner.post(reverse("inventory:supplier-new"), {"name": "rope walk gas"}).status_code == 422


def test_only_one_that_nothing_is_bought_from_is_taken_away(as_planner, estuary, sky):
    away = reverse("inventory:supplier-remove", args=[estuary.pk])
    as_planner.post(away)
    Item.objects.update(active=False)
    waiting = Order.objects.create(number="B-0001", supplier="Estuary Latex")
    as_planner.post(away)
    assert Supplier.objects.count() == 1
    Order.objects.filter(pk=waiting.pk).update(state=Order.State.CANCELLED)
    as_planner.post(away)
    assert Supplier.objects.count() == 0


def test_crew_have_no_suppliers(as_crew, estuary):
    for name in ("supplier", "supplier-change"):
        assert as_crew.get(reverse(f"inventory:{name}", args=[estuary.pk])).status_code == 403
    assert as_crew.get(reverse("inventory:suppliers")).status_code == 403
