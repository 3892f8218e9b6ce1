"""Labels are read back by an independent reader from the page that is printed."""

import io

import numpy as np
import pypdfium2
import pytest
import zxingcpp
from django.urls import reverse

from inventory import labels
from inventory.models import Bin
from inventory.places import found_by_code

PIXELS_A_MM = 8


def pages_of(data: bytes) -> list:
    document = pypdfium2.PdfDocument(io.BytesIO(data))
    return [page.render(scale=PIXELS_A_MM * 25.4 / 72).to_pil() for page in document]


def sheet(client, **asked):
    return client.get(reverse("inventory:labels"), {"what": "bins", "grid": "24", "first": "1", **asked})


@pytest.fixture
def bins(db) -> list[Bin]:
    return [Bin.objects.create(name=name, position=at) for at, name in enumerate(["A2", "A10", "Yard"], start=1)]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("grid", ["24", "12", "6"])
def test_every_code_says_its_address(as_planner, studio, bins, sky, paper, grid):
    studio.paper = paper
    studio.save()
    found = [code for page in pages_of(sheet(as_planner, grid=grid).content) for code in zxingcpp.read_barcodes(page)]
    assert sorted(code.text for code in found) == sorted(labels.address_of("b", one.pk) for one in bins)
    for code in found:
        corners = code.position
        # By the size of the label; 20 mm is the least that phones read at arm's length (common practice, no source).
        least = {"24": 20, "12": 29, "6": 41}[grid]
        assert (corners.top_right.x - corners.top_left.x) / PIXELS_A_MM >= least


def test_a_balloon_has_its_colour_in_a_word_and_a_swatch(as_planner, sky):
    data = sheet(as_planner, what="items").content
    (page,) = pages_of(data)
    text = pypdfium2.PdfDocument(io.BytesIO(data))[0].get_textpage().get_text_range()
    assert f"No. {sky.pk}" in text and "5 in sky" in text and "lies in B2" in text
    rgb = tuple(int(sky.rgb[at : at + 2], 16) for at in (1, 3, 5))
    near = (np.abs(np.asarray(page.convert("RGB")).astype(int) - rgb) <= 3).all(axis=2)
    assert near.sum() > 12 * PIXELS_A_MM**2  # of a circle of some 16 mm²
    assert zxingcpp.read_barcodes(page)[0].text == labels.address_of("i", sky.pk)


@pytest.mark.parametrize("grid", labels.GRIDS)
def test_nothing_of_a_label_hangs_over_its_edge(as_planner, sky, grid):
    """The longest of a studio's names, a colour and a place, on the narrowest paper."""
    sky.bin = "Shelf behind door 12"
    sky.save()
    data = sheet(as_planner, what="items", grid=grid).content
    columns, rows = labels.GRIDS[grid]
    width, height = (mm / 25.4 * 72 for mm in labels.PAPERS["A4"])
    text = pypdfium2.PdfDocument(io.BytesIO(data))[0].get_textpage()
    boxes = [text.get_charbox(at) for at in range(text.count_chars())]
    assert len(boxes) > 30
    assert all(right < width / columns and bottom > height - height / rows for _, bottom, right, _ in boxes)


def test_a_begun_sheet_is_used_up(bins):
    made = [labels.label_of_bin(one) for one in bins]
    pages = labels.placed(made, paper="A4", grid="24", first=23)
    assert [len(page) for page in pages] == [2, 1]
    assert (pages[0][0].x_mm, pages[0][0].y_mm) == (70.0, round(7 * 297 / 8, 2))
    assert (pages[1][0].x_mm, pages[1][0].y_mm) == (0, 0)


@pytest.mark.parametrize(
    "asked, says",
    [
        ({"first": "25"}, "A page has 24 labels."),
        ({"first": "0"}, "1 or more"),
        ({"first": "x"}, "whole number"),
        ({"grid": "9"}, "Choose one"),
        ({"what": "kind-sheet"}, "There is nothing of this to label yet."),
        ({"what": "bin-99999999999999999999"}, "Choose one"),
    ],
)
def test_what_cannot_be_printed_is_said_beside_it(as_planner, bins, asked, says):
    answer = sheet(as_planner, **asked)
    assert answer.status_code == 422 and says in answer.content.decode()


def test_a_name_that_is_markup_is_text(as_planner, bins):
    Bin.objects.create(name="<img src=x>")
    data = sheet(as_planner).content
    assert "<img src=x>" in pypdfium2.PdfDocument(io.BytesIO(data))[0].get_textpage().get_text_range()


def test_a_label_opens_its_page_and_changes_nothing(as_planner, as_crew, as_nobody, bins, sky):
    yard = bins[2]
    address = reverse("label:bin", args=[yard.pk])
    assert as_planner.get(address)["Location"] == reverse("inventory:bin", args=[yard.pk])
    assert as_crew.get(address)["Location"] == reverse("inventory:bin", args=[yard.pk])
    assert address in as_nobody.get(address)["Location"]
    assert as_planner.get(reverse("label:item", args=[sky.pk]))["Location"] == reverse("inventory:item", args=[sky.pk])
    assert as_crew.get(reverse("label:item", args=[sky.pk])).status_code == 200
    assert as_planner.post(address).status_code == 405
    assert as_planner.get("/b/999/").status_code == 404 and as_planner.get("/i/999/").status_code == 404


def test_a_code_that_is_typed_or_scanned(bins, sky):
    a2, a10, _ = bins
    assert found_by_code(" a10 ") == a10
    assert found_by_code(labels.address_of("b", a2.pk)) == a2
    assert found_by_code(labels.address_of("i", sky.pk)).pk == sky.pk
    assert found_by_code(f"No. {sky.pk}").pk == found_by_code(str(sky.pk)).pk == sky.pk
    for nonsense in ("", "Z9", "9" * 40, "²", "/b/", "-1", "\x00"):
        assert found_by_code(nonsense) is None
