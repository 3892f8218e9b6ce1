"""Foil shapes, small things, cylinders that are rented; suppliers and bins written one way."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from decor.calc.units import METRES_PER_INCH
from inventory.foils import lift_doubt, most_lift_g
from inventory.models import Bin, Cylinder, Foil, Hardware, Item, Lot, Sheet, Supplier
from tests.inventory.test_item_add import send


def page_of(client, item):
    return client.get(reverse("inventory:item", args=[item.pk])).content.decode()


def test_a_foil_shape_and_its_page(as_planner):
    assert send(as_planner, "foil").status_code == 302
    foil = Foil.objects.get()
    assert (foil.shape, foil.height_cm, foil.gas_volume_l, foil.lift_g, foil.returnable) == ("star", 45, 14, 5, False)
    text = page_of(as_planner, foil)
    for words in ("14 litres of gas", "5 g by its packet", "45 cm when full"):
        assert words in text
    assert "look at its packet again" not in text
    assert "Foil shapes" in as_planner.get(reverse("inventory:stock")).content.decode()


def test_one_that_is_filled_with_air(as_planner):
    send(as_planner, "foil", gas_volume_l="", lift_g="", height_cm="")
    assert ">air<" in page_of(as_planner, Foil.objects.get())


def test_more_lift_than_helium_has_is_kept_and_doubted(as_planner):
    answer = send(as_planner, "foil", lift_g="15")
    foil = Foil.objects.get()
    assert foil.lift_g == 15
    doubt = "14 litres of helium lift 14.8 g at most, and the foil itself weighs too: look at its packet again."
    assert doubt in as_planner.get(answer["Location"]).content.decode()
    assert doubt in page_of(as_planner, foil)


def test_what_helium_lifts_agrees_with_the_published_densities():
    """Dry air 1.2250 kg/m³ (U.S. Standard Atmosphere 1976, sea level), helium 0.1692 kg/m³ at the same state
    (NISTIR 8474): 1.0558 g a litre."""
    assert most_lift_g(1000) == pytest.approx(1225.0 - 169.2, abs=0.1)
    assert lift_doubt(Foil(gas_volume_l=100, lift_g=105.5)) == ""
    assert lift_doubt(Foil(gas_volume_l=100, lift_g=105.7)) != ""


@pytest.mark.parametrize(
    ("purpose", "words", "comes_back"),
    [("ribbon", "Ribbon", False), ("weight", "Weight", True), ("net", "Net for a drop", True)],
)
def test_small_things_start_with_what_they_are(as_planner, purpose, words, comes_back):
    address = reverse("inventory:item-add", args=["hardware"])
    assert f'{address}?purpose={purpose}"' in as_planner.get(reverse("inventory:item-new")).content.decode()
    form = as_planner.get(f"{address}?purpose={purpose}").context["form"]
    assert form["purpose"].value() == purpose
    assert bool(form["returnable"].value()) is comes_back
    send(as_planner, "hardware", purpose=purpose, name="That thing")
    assert words in page_of(as_planner, Hardware.objects.get())
    assert "Ribbon, line, weights and nets" in as_planner.get(reverse("inventory:stock")).content.decode()


@pytest.mark.parametrize("purpose", ["magnet", "bin", "clip", "sizer"])
def test_every_purpose_is_offered(as_planner, purpose):
    assert send(as_planner, "hardware", purpose=purpose).status_code == 302
    assert Hardware.objects.get().purpose == purpose


def test_a_rented_cylinder(as_planner):
    assert send(as_planner, "cylinder", rented="on", rent_per_week="4,50").status_code == 302
    cylinder = Cylinder.objects.get()
    assert (cylinder.rented, cylinder.rent_per_week) == (True, Decimal("4.50"))
    assert re.search(r"rented, \S+4\.50 a week", page_of(as_planner, cylinder))


def test_ones_own_cylinder_has_no_rent(as_planner):
    assert send(as_planner, "cylinder", rent_per_week="").status_code == 302
    cylinder = Cylinder.objects.get()
    assert (cylinder.rented, cylinder.rent_per_week) == (False, 0)
    assert "your own" in page_of(as_planner, cylinder)


def test_a_reorder_level_on_every_kind(as_planner):
    for kind in Item.Kind.values:
        assert send(as_planner, kind, reorder_level="40").status_code == 302
    assert list(Item.objects.values_list("reorder_level", flat=True)) == [40] * len(Item.Kind.values)
    for item in Item.objects.all():
        counted = "yours" if item.returnable else "free"
        assert f"when fewer than 40 are {counted}" in page_of(as_planner, item)


def test_suppliers_and_bins_are_offered_and_written_one_way(as_planner, sky):
    Supplier.objects.create(name="Ropewalk Hire")
    Bin.objects.create(name="C1")
    text = as_planner.get(reverse("inventory:item-add", args=["hardware"])).content.decode()
    for word in ("Estuary Latex", "Ropewalk Hire", "B2", "C1"):
        assert f'<option value="{word}">' in text
    assert 'list="known_supplier"' in text and 'id="known_supplier"' in text
    send(as_planner, "hardware", supplier=" ropewalk  hire ", bin="c1")
    hardware = Hardware.objects.get()
    assert (hardware.supplier, hardware.bin) == ("Ropewalk Hire", "C1")


def test_the_makers_batch_is_kept_with_the_lot(as_planner, sky):
    given = {"quantity": "100", "here": "yes", "arrives_on": "2026-01-05", "batch": " L  2041 "}
    assert as_planner.post(reverse("inventory:lot-new", args=[sky.pk]), given).status_code == 302
    lot = Lot.objects.get()
    assert lot.batch == "L 2041"
    assert "batch L 2041" in page_of(as_planner, sky)
    assert 'value="L 2041"' in as_planner.get(reverse("inventory:lot-change", args=[lot.pk])).content.decode()


def test_how_large_a_sheet_opens(as_planner, studio):
    send(as_planner, "sheet")
    sheet = Sheet.objects.get()
    assert "1.65 × 2.79 m" in page_of(as_planner, sheet)
    studio.units = "imperial"
    studio.save()
    feet = 13 * 5 * METRES_PER_INCH / 0.3048
    assert f"{feet:.1f} ×" in page_of(as_planner, sheet)


@pytest.mark.parametrize(
    ("kind", "counted"),
    [("latex", "free"), ("foil", "free"), ("sheet", "yours"), ("hardware", "yours"), ("cylinder", "yours")],
)
def test_what_is_compared_with_the_level_is_said_for_each_kind(as_planner, kind, counted):
    """As the level is judged: what comes back by all there is of it, what is used up by what is free."""
    form = as_planner.get(reverse("inventory:item-add", args=[kind])).context["form"]
    field = form.fields["reorder_level"]
    assert field.label == f"Order again when fewer are {counted} than"
    assert ("those that are free count" in field.help_text) == ("returnable" in form.fields)


@pytest.mark.parametrize(
    ("asked", "title"),
    [("?purpose=ribbon", "ribbon or line"), ("?purpose=net", "a net"), ("", "hardware"), ("?purpose=odd", "hardware")],
)
def test_what_is_new_is_called_what_was_picked(as_planner, asked, title):
    address = reverse("inventory:item-add", args=["hardware"]) + asked
    assert f"New: {title}</h1>" in as_planner.get(address).content.decode()


def test_what_is_said_of_a_tick_stands_under_it(as_planner):
    """Above it, it read as if it belonged to the field before."""
    text = as_planner.get(reverse("inventory:item-add", args=["sheet"])).content.decode()
    tick, hint = text.index('id="id_can_be_cut"'), text.index('id="id_can_be_cut_helptext"')
    assert tick < hint and 'aria-describedby="id_can_be_cut_helptext"' in text
    assert text.index('id="id_lattice_helptext"') < text.index('id="id_lattice"'), "other fields say it first"


@pytest.mark.parametrize("number", ["0", "-3"])
def test_a_pack_holds_one_or_more(as_planner, number):
    given = {"name": "Crate", "purpose": "other", "pack_size": number, "pack_price": "3", "lead_days": "5"}
    answer = as_planner.post(reverse("inventory:item-add", args=["hardware"]), given)
    assert answer.status_code == 422 and "This must be 1 or more." in answer.content.decode()


def test_a_bins_page_belongs_to_the_stock_or_to_the_crews_day(as_planner, as_crew):
    bin_ = Bin.objects.create(name="A1", position=1)
    address = reverse("inventory:bin", args=[bin_.pk])
    assert as_planner.get(address).context["tab"] == "stock" and as_crew.get(address).context["tab"] == "today"
