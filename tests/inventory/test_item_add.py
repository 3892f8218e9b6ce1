from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Cylinder, Hardware, Item, Latex, Sheet

BUYING = {"pack_size": "100", "pack_price": "6.20", "lead_days": "5", "supplier": "Estuary Latex", "bin": "B2"}
LATEX = {"nominal_in": "5", "shape": "round", "colour": " Sky ", "finish": "plain", "near": "#7db3d8", "rgb": "#888888"}
SHEET = {
    "name": "Square sheet",
    "columns": "13",
    "rows": "22",
    "lattice": "square",
    "pitch_m": "127",
    "sized_diameter_m": "119",
    "tabs_per_side": "22",
    "tabs_per_end": "13",
    "sides_join": "on",
    "ends_join": "on",
    "edges_meet_in_part": "on",
    "odd_rows_shift": "on",
    "strips": "all",
    "can_be_cut": "on",
    "weight_kg": "0,25",
    "uses": "6",
    "returnable": "on",
}
HARDWARE = {"name": "Pole, 2 m", "purpose": "pole", "returnable": "on"}
CYLINDER = {"name": "Cylinder, 50 l", "water_volume_l": "50", "pressure_bar": "200", "returnable": "on"}
FOIL = {"name": "Star, 45 cm", "shape": " Star ", "height_cm": "45", "gas_volume_l": "14", "lift_g": "5"}
GOOD = {"latex": LATEX, "sheet": SHEET, "hardware": HARDWARE, "cylinder": CYLINDER, "foil": FOIL}


def send(client, kind, **changes):
    given = {k: v for k, v in {**GOOD[kind], **BUYING, **changes}.items() if v is not None}
    return client.post(reverse("inventory:item-add", args=[kind]), given)


def test_the_chooser_leads_to_each_kind(as_planner):
    text = as_planner.get(reverse("inventory:item-new")).content.decode()
    for kind in GOOD:
        address = reverse("inventory:item-add", args=[kind])
        assert address in text
        assert as_planner.get(address).status_code == 200


def test_balloons(as_planner):
    answer = send(as_planner, "latex")
    latex = Latex.objects.get()
    assert answer["Location"] == reverse("inventory:lot-new", args=[latex.pk])
    assert (latex.name, latex.kind, latex.colour, latex.rgb) == ("5 in sky", "latex", "sky", "#7db3d8")
    assert (latex.nominal_in, latex.pack_price, latex.returnable) == (5, Decimal("6.20"), False)


def test_a_mixed_colour(as_planner):
    send(as_planner, "latex", near="mixed", rgb="#12ab9f", nominal_in="10.5", finish="pearl", shape="double-ended")
    latex = Latex.objects.get()
    assert (latex.rgb, latex.name) == ("#12ab9f", "10.5 in double-ended pearl sky")


def test_a_sheet_in_millimetres(as_planner):
    send(as_planner, "sheet")
    sheet = Sheet.objects.get()
    assert (sheet.pitch_m, sheet.sized_diameter_m, sheet.row_pitch_m) == (
        pytest.approx(0.127),
        pytest.approx(0.119),
        None,
    )
    assert (sheet.rows, sheet.columns, sheet.weight_kg, sheet.returnable) == (22, 13, 0.25, True)


def test_a_sheet_in_inches(as_planner, studio):
    studio.units = "imperial"
    studio.save()
    send(as_planner, "sheet", pitch_m="5", row_pitch_m="4.5", sized_diameter_m="4.7")
    sheet = Sheet.objects.get()
    assert sheet.pitch_m == pytest.approx(0.127)
    assert sheet.row_pitch_m == pytest.approx(0.1143)
    text = as_planner.get(reverse("inventory:item-change", args=[sheet.pk])).content.decode()
    assert 'value="5"' in text and 'value="4.7"' in text and "From cell to cell along a row, in" in text


def test_hardware_and_cylinder(as_planner):
    send(as_planner, "hardware")
    send(as_planner, "cylinder", returnable=None)
    assert Hardware.objects.get().returnable
    cylinder = Cylinder.objects.get()
    assert (cylinder.water_volume_l, cylinder.pressure_bar, cylinder.returnable) == (50, 200, False)


def test_a_price_is_not_nothing_by_oversight(as_planner):
    form = as_planner.get("/stock/new/latex/").context["form"]
    assert (form["pack_price"].value(), form["pack_size"].value()) == (None, None)
    assert as_planner.get("/stock/new/sheet/").context["form"]["pack_size"].value() == 1


@pytest.mark.parametrize(
    ("kind", "changes", "message"),
    [
        ("latex", {"near": None}, "Pick the nearest colour, or mix it and pick “as mixed”."),
        ("latex", {"near": "mixed", "rgb": "blueish"}, "Write the colour as # and six digits, like #7db3d8."),
        ("latex", {"near": "mixed", "rgb": ""}, "Mix the colour here."),
        ("latex", {"nominal_in": "0"}, "This must be 1 or more."),
        ("latex", {"nominal_in": "big"}, "This must be a number."),
        ("latex", {"shape": "cube"}, "Choose one of those offered."),
        ("sheet", {"pitch_m": "2"}, "That is too short: 10 or more."),
        ("sheet", {"pitch_m": "2000"}, "That is too long: 1000 or less."),
        ("sheet", {"rows": "0"}, "This must be 1 or more."),
        ("sheet", {"columns": "501"}, "This must be 500 or less."),
        ("sheet", {"columns": "-3"}, "This must be 1 or more."),
        ("sheet", {"uses": "-1"}, "This must be 1 or more."),
        ("sheet", {"rows": "99999999999999999", "columns": "99999999999999999"}, "This must be 500 or less."),
        ("sheet", {"returnable": None}, "It lasts several events, so it comes back after each: tick this."),
        ("sheet", {"weight_kg": "-1"}, "This must be 0 or more."),
        ("hardware", {"name": ""}, "Fill this in."),
        ("hardware", {"pack_size": "0"}, "This must be 1 or more."),
        ("hardware", {"pack_price": "-1"}, "This must be 0 or more."),
        ("hardware", {"lead_days": "999"}, "This must be 365 or less."),
        ("sheet", {"rows": "400", "columns": "400"}, "That would be 160,000 cells; a sheet has 100,000 at most."),
        ("hardware", {"reorder_level": "-1"}, "This must be 0 or more."),
        ("hardware", {"reorder_level": "many"}, "This must be a whole number."),
        ("cylinder", {"pressure_bar": "301"}, "This must be 300 or less."),
        ("cylinder", {"water_volume_l": "1e400"}, "This must be a number."),
        ("cylinder", {"rented": "on"}, "Give the rent of a week, 0 when there is none."),
        ("cylinder", {"rented": "on", "rent_per_week": "-3"}, "This must be 0 or more."),
        (
            "cylinder",
            {"rent_per_week": "4"},
            "One of your own has no rent: say that it is rented, or leave this empty.",
        ),
        ("foil", {"shape": ""}, "Fill this in."),
        ("foil", {"height_cm": "2"}, "This must be 5 or more."),
        ("foil", {"gas_volume_l": "5001"}, "This must be 5,000 or less."),
        ("foil", {"lift_g": "-1"}, "This must be 0 or more."),
        ("foil", {"gas_volume_l": ""}, "It lifts something, so it holds gas: say how much."),
    ],
)
def test_bad_input_has_its_message_and_stores_nothing(as_planner, kind, changes, message):
    answer = send(as_planner, kind, **changes)
    assert answer.status_code == 422
    assert message in answer.content.decode()
    assert not Item.objects.exists()


def test_cells_beyond_counting_are_not_multiplied(as_planner):
    # The product stood on the page, too long for a phone, where each figure is wrong by itself.
    page = send(as_planner, "sheet", rows="99999999999999999", columns="99999999999999999").content.decode()
    assert page.count("This must be 500 or less.") == 4 and "That would be" not in page, "above, and beside each"


def test_the_same_balloon_twice_is_refused(as_planner, sky):
    answer = send(as_planner, "latex", colour="SKY")
    assert answer.status_code == 422
    assert "There is already an item “5 in sky”." in answer.content.decode()
    assert Item.objects.count() == 1


@pytest.mark.parametrize("name", ["Pole, 2 m", "pole, 2 M", " POLE,  2 m "])
def test_the_same_name_twice_is_refused_whatever_its_capitals(as_planner, pole, name):
    answer = send(as_planner, "hardware", name=name)
    assert answer.status_code == 422
    assert "There is already an item “Pole, 2 m”." in answer.content.decode()
    assert Item.objects.count() == 1


def test_an_item_may_be_called_otherwise_in_capitals_only(as_planner, pole):
    given = {**HARDWARE, **BUYING, "name": "POLE, 2 m"}
    assert as_planner.post(reverse("inventory:item-change", args=[pole.pk]), given).status_code == 302
    assert Hardware.objects.get().name == "POLE, 2 m"


def test_a_double_tap_is_one_item(as_planner):
    first, second = (send(as_planner, "latex", request_key="k" * 20) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert Item.objects.count() == 1


def test_an_unknown_kind_is_not_here(as_planner):
    assert as_planner.get("/stock/new/cake/").status_code == 404


def test_not_for_crew_nor_for_nobody(as_crew, as_nobody):
    assert send(as_crew, "latex").status_code == 403
    assert send(as_nobody, "latex").status_code == 302
    assert not Item.objects.exists()
