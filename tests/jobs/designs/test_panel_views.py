"""From an uploaded picture to a chart, and everything that is refused on the way."""

import io
import re
import struct
import zlib
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image, ImageDraw

from decor.studio.models import StoredFile
from decor.studio.services import file_path, file_read, files_sweep
from inventory.services import reservation_hold
from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import cells_array, chart_of, counts_of, flat_svg
from jobs.designs.editor.merging import stroke_of_runs
from jobs.designs.editor.services import cells_paint
from jobs.designs.kinds import panel as kind
from jobs.designs.models import Panel, Piece
from jobs.designs.reloading import tying_choose
from jobs.designs.tying import Wishes, wishes_of
from tests.jobs.designs.conftest import encoded, lighthouse, photo
from tests.jobs.designs.test_piece_views import url

PALETTE = ["white", "red", "navy", "sky", "green", "black"]


@pytest.fixture
def sent(sheets, stocked):
    """What a filled-in form sends; `picture` is added by each test."""
    return {
        "sheet": sheets["large"].pk, "loading": "paired", "unit": "cells", "width": "26", "height": "22",
        "colours": [stocked[name].pk for name in PALETTE], "versions": "1-0",
    }  # fmt: skip


def file(data: bytes, name: str = "lighthouse.png", kind: str = "image/png") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data, kind)


def error(page: str, field: str) -> str:
    found = re.search(rf'id="id_{field}_error"><svg.*?</svg><span>(.*?)</span>', page, re.S)
    return found[1] if found else f"no error beside {field}"


def refused(client, piece, sent, field: str) -> str:
    """The words beside the field; no chart is made, and no picture that was itself refused is kept."""
    answer = client.post(url("piece-measures", piece), sent)
    assert answer.status_code == 422 and not Panel.objects.exists()
    assert field != "picture" or not StoredFile.objects.exists()
    return error(answer.content.decode(), field)


def nothing_on_disk(settings) -> bool:
    return not [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]


def test_a_drawn_picture_becomes_a_chart(as_planner, panel_piece, sent, stocked):
    answer = as_planner.post(url("piece-measures", panel_piece), sent | {"picture": file(encoded(lighthouse()))})
    assert answer.status_code == 302 and answer["Location"] == url("piece", panel_piece)
    panel = Panel.objects.get()
    assert (panel.rows, panel.columns, panel.loading) == (22, 26, "paired")
    cells, colours = cells_array(panel), [stocked[name].pk for name in PALETTE]
    assert [panel.palette[cells[at]] for at in ((0, 0), (7, 12), (8, 13), (21, 25))] == [
        colours[3], colours[1], colours[0], colours[2],
    ]  # fmt: skip
    picture = panel.picture
    assert picture.original_name == "lighthouse.png" and (picture.width_px, picture.height_px) == (520, 440)
    assert Image.open(io.BytesIO(file_read(file=picture))).size == (520, 440)


def test_what_the_chart_warns_of_is_told_on_the_quick_way_too(as_planner, panel_piece, sent):
    """A line of two pixels under a disc, 30 a cell."""
    logo = Image.new("RGB", (780, 700), "white")
    ImageDraw.Draw(logo).ellipse((200, 80, 580, 460), (226, 59, 46))
    for line, warned in ((False, False), (True, True)):
        if line:
            ImageDraw.Draw(logo).rectangle((150, 598, 650, 599), (29, 43, 94))
        picture = sent | {"picture": file(encoded(logo))}
        page = as_planner.post(url("piece-measures", panel_piece), picture, follow=True).content.decode()
        assert ("Some lines are under half a cell thick" in page) == warned
        assert ('class="outcome wide warn"' in page) == warned
        sent = sent | {"versions": "2-1"}


def test_the_chart_is_shown_as_balloons_and_plain_with_counts(as_planner, panel_piece, sent):
    as_planner.post(url("piece-measures", panel_piece), sent | {"picture": file(encoded(lighthouse()))})
    page = as_planner.get(url("piece", panel_piece)).content.decode()
    panel = Panel.objects.select_related("piece").get()
    counted = {item.words: number for item, number in counts_of(panel, catalogue_now())}
    assert page.count('<use href="#p') >= 26 * 22
    for words, number in counted.items():
        assert re.search(rf"{words}<br><b>{number} ?</b>", page), (words, number)
    assert "26 wide, 22 high · 3.4 × 2.8 m · paired" in page
    assert "2 of Net 22 × 13" in page and "1 join, 22 join tabs" in page
    plain = as_planner.get(url("piece", panel_piece) + "?view=plain").content.decode()
    assert 'class="net plain"' in plain and ">A</b>" in plain and "Sheet 2" in plain
    one = as_planner.get(url("piece", panel_piece) + "?view=plain&sheet=2").content.decode()
    assert len(one) < len(plain)
    for text in (page, plain):
        assert "style=" not in text and "<script>" not in text


def test_every_sheet_of_a_large_panel_can_be_reached_from_its_plain_chart(as_planner, panel_piece, sheets, stocked):
    """130 sheets of 11 rows and 9 columns: 60 links at a time, and from each lot to the next and back."""
    sheets["large"].delete()
    Panel.objects.create(
        piece=panel_piece, sheet=sheets["small"], rows=110, columns=117, palette=[stocked["sky"].pk],
        cells=np.zeros((110, 117), "<i2").tobytes(),
    )  # fmt: skip
    at, seen = "?view=plain", set()
    for _ in range(3):
        page = as_planner.get(url("piece", panel_piece) + at).content.decode()
        seen |= {int(n) for n in re.findall(r">Sheet (\d+)</a>", page)}
        onward = re.search(r'href="([^"]+)">Sheets from (\d+) on</a></nav>', page)
        at = onward[1].replace("&amp;", "&") if onward else at
    assert onward is None and seen == set(range(1, 131))
    assert 'sheet=61">Sheets from 61 on</a>' in page and "Whole" not in page


@pytest.mark.parametrize(
    "wide,high,words",
    [
        ("25", "22", "; 22 cells over, on the right"),
        ("26", "21", "; 26 cells over, at the bottom"),
        ("25", "21", "; 47 cells over, on the right and at the bottom"),
        ("26", "22", "1 join, 22 join tabs"),
    ],
)
def test_cells_that_are_over_lie_where_the_panel_ends_inside_a_sheet(as_planner, panel_piece, sent, wide, high, words):
    given = sent | {"width": wide, "height": high, "picture": file(encoded(lighthouse()))}
    as_planner.post(url("piece-measures", panel_piece), given)
    assert f"{words}</small>" in as_planner.get(url("piece", panel_piece)).content.decode()


def test_one_empty_side_keeps_the_pictures_shape(as_planner, panel_piece, sent):
    """520 × 440: 3.302 m wide (26 pitches) and 2.794 m high (22)."""
    metres = sent | {"unit": "m", "width": "3.37", "height": "", "picture": file(encoded(lighthouse()))}
    as_planner.post(url("piece-measures", panel_piece), metres)
    panel = Panel.objects.get()
    assert (panel.columns, panel.rows) == (26, round(3.37 * 440 / 520 / 0.127))
    feet = sent | {"unit": "ft", "width": "", "height": "9.1666", "versions": "2-1"}
    assert as_planner.post(url("piece-measures", panel_piece), feet).status_code == 302
    panel.refresh_from_db()
    assert (panel.rows, panel.columns) == (22, round(9.1666 * 0.3048 * 520 / 440 / 0.127 - 0.5))
    assert StoredFile.objects.count() == 1, "no new picture was sent"


def test_a_photograph_of_12_megapixels_becomes_3_000_cells(as_planner, panel_piece, sent, stocked):
    data = photo()
    big = sent | {"width": "64", "height": "47", "picture": file(data, "sea.jpg", "image/jpeg")}
    assert as_planner.post(url("piece-measures", panel_piece), big).status_code == 302
    page = as_planner.get(url("piece", panel_piece))
    assert page.content.count(b'<use href="#p') >= 64 * 47


def test_never_more_of_a_colour_than_is_free(as_planner, panel_piece, sent, stocked, event):
    reservation_hold(
        lines=[(stocked["sky"].pk, 250)], starts=event.load_in, ends=event.strike, label="Other event",
        expires=event.load_in,
    )  # fmt: skip
    limited = sent | {"within_stock": "on", "picture": file(encoded(lighthouse()))}
    assert as_planner.post(url("piece-measures", panel_piece), limited).status_code == 302
    counts = {item.words: number for item, number in counts_of(Panel.objects.get(), catalogue_now())}
    assert counts["sky"] == 150 and sum(counts.values()) == 26 * 22
    assert max(number for words, number in counts.items() if words != "sky") <= 400


def test_alike_pieces_and_two_balloons_a_cell_share_what_is_free(as_planner, panel_piece, sent, stocked):
    Piece.objects.filter(pk=panel_piece.pk).update(count=2)
    small = sent | {"loading": "sandwich", "width": "20", "height": "15", "within_stock": "on"}
    as_planner.post(url("piece-measures", panel_piece), small | {"picture": file(encoded(lighthouse()))})
    counts = {item.words: number for item, number in counts_of(Panel.objects.get(), catalogue_now())}
    assert max(counts.values()) <= 400 // 4


def test_too_few_balloons_says_how_many_short(as_planner, panel_piece, sent, stocked):
    two = sent | {"colours": [stocked["sky"].pk], "within_stock": "on", "picture": file(encoded(lighthouse()))}
    words = refused(as_planner, panel_piece, two, "within_stock")
    assert "400 of 572 cells" in words and "172 short" in words and "Fri 13 June" in words


def test_a_colour_with_no_balloons_has_its_own_message(as_planner, panel_piece, sent, stocked):
    some = sent | {"colours": [*sent["colours"], stocked["yellow"].pk], "within_stock": "on"}
    words = refused(as_planner, panel_piece, some | {"picture": file(encoded(lighthouse()))}, "colours")
    assert "No yellow balloons are free on Fri 13 June" in words
    del some["within_stock"]
    answer = as_planner.post(url("piece-measures", panel_piece), some | {"picture": file(encoded(lighthouse()))})
    assert answer.status_code == 302
    page = as_planner.get(url("piece", panel_piece)).content.decode()
    assert re.search(r"Yellow</span><span class=\"v\">\d+ used here, 0 free", page) and "Short of balloons" in page


def png_header(width: int, height: int) -> bytes:
    """A PNG that promises so many pixels and brings next to none."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"\0" * 99)) + chunk(b"IEND", b"")


HOSTILE = {
    "a text named .jpg": (b"Dear sir, find no picture here. " * 9, "photo.jpg", "not a JPEG, PNG, WebP or HEIC"),
    "an SVG": (b'<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>', "logo.svg", "SVG drawings cannot"),
    "an SVG named .png": (b'<?xml version="1.0"?><svg onload="x()"/>', "logo.png", "SVG drawings cannot"),
    "50,000 × 50,000": (png_header(50_000, 50_000), "bomb.png", "more than 40 million pixels"),
    "cut off": (encoded(lighthouse())[:900], "cut.png", "damaged"),
    "empty": (b"", "empty.jpg", "empty"),
    "too large": (b"\xff\xd8\xff" + b"\0" * (15 * 1024 * 1024 + 1), "huge.jpg", "the most is 15 MB"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_upload_is_refused_beside_the_field_and_leaves_nothing(as_planner, panel_piece, sent, settings, name):
    data, filename, words = HOSTILE[name]
    found = refused(as_planner, panel_piece, sent | {"picture": file(data, filename, "image/jpeg")}, "picture")
    assert words in found
    assert nothing_on_disk(settings)


def test_fields_after_a_huge_file_are_still_heard(as_planner, panel_piece, sent):
    huge = {"picture": file(b"\xff\xd8\xff" + b"\0" * (16 * 1024 * 1024), "huge.jpg")} | sent | {"width": "-1"}
    answer = as_planner.post(url("piece-measures", panel_piece), huge)
    page = answer.content.decode()
    assert "15 MB" in error(page, "picture") and "more than 0" in error(page, "width")


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"width": "0"}, "width", "more than 0"),
        ({"height": "-3"}, "height", "more than 0"),
        ({"width": "", "height": ""}, "width", "Say how wide or how high"),
        ({"width": "400", "height": "251"}, "width", "100,400 cells; the most is 100,000"),
        ({"width": "9" * 12, "height": ""}, "width", "the most is 10,000,000"),
        ({"width": "1e300", "unit": "m"}, "width", "the most is 10,000,000"),
        ({"width": "nan"}, "width", "number"),
        ({"width": "25.5"}, "width", "whole numbers"),
        ({"height": "20.5", "width": ""}, "height", "whole numbers"),
        ({"colours": []}, "colours", "Choose at least one colour"),
        ({"colours": ["999999"]}, "colours", "no balloons of the size and shape"),
        ({"loading": "glued"}, "loading", "Choose one of those offered"),
        ({"sheet": ""}, "sheet", "Choose a sheet type"),
        ({"picture": ""}, "picture", "Choose a picture"),
    ],
)
def test_bad_input_has_its_own_message(as_planner, panel_piece, sent, settings, changes, field, words):
    given = sent | {"picture": file(encoded(lighthouse()))} | changes
    assert words in refused(as_planner, panel_piece, given, field)
    assert field != "picture" or nothing_on_disk(settings)


def test_colours_follow_the_sheet_and_the_way_to_load(as_planner, panel_piece, sent, stocked):
    asked = {"sheet": sent["sheet"], "loading": "strung", "colours": [stocked["sky"].pk, stocked["green"].pk]}
    part = as_planner.get(url("piece-colours", panel_piece), asked).content.decode()
    assert f'value="{stocked["sky double"].pk}"' in part and f'value="{stocked["sky"].pk}"' not in part
    assert re.search(rf'value="{stocked["sky double"].pk}"[^>]* checked', part)
    assert "400 free" in part and "<form" not in part
    assert "No balloons fit" in as_planner.get(url("piece-colours", panel_piece), {"sheet": "x"}).content.decode()


def test_colours_of_another_shape_become_the_ones_that_fit(as_planner, panel_piece, sent, stocked):
    """Without script the colours shown are those of the first sheet and way to load."""
    strung = sent | {"loading": "strung", "picture": file(encoded(lighthouse()))}
    strung["colours"] = [stocked[name].pk for name in ("white", "red", "navy", "sky", "black")]
    assert as_planner.post(url("piece-measures", panel_piece), strung).status_code == 302
    expected = {stocked[f"{name} double"].pk for name in ("white", "red", "navy", "sky", "black")}
    assert set(Panel.objects.get().palette) == expected
    StoredFile.objects.all().delete(), Panel.objects.all().delete()
    green = strung | {"colours": [stocked["green"].pk], "picture": file(encoded(lighthouse())), "versions": "2-0"}
    assert "no balloons of the size" in refused(as_planner, panel_piece, green, "colours")


def test_a_picture_matched_anew_does_not_bury_painted_cells(as_planner, panel_piece, sent):
    as_planner.post(url("piece-measures", panel_piece), sent | {"picture": file(encoded(lighthouse()))})
    panel = Panel.objects.get()
    seen = int(cells_array(panel)[0, 0])
    stroke = stroke_of_runs([0, 1, 1, seen], panel.rows * panel.columns)
    cells_paint(panel=panel, stroke=stroke, palette=panel.palette)
    answer = as_planner.post(url("piece-measures", panel_piece), sent | {"versions": "2-1", "loading": "sandwich"})
    assert answer.status_code == 409
    panel = Panel.objects.get()
    assert panel.loading == "paired" and cells_array(panel)[0, 0] == 1
    with_file = sent | {"versions": "2-1", "picture": file(encoded(lighthouse()))}
    assert as_planner.post(url("piece-measures", panel_piece), with_file).status_code == 409
    assert StoredFile.objects.count() == 1, "the refused picture's row is gone"


def test_what_was_painted_and_goes_is_said_before_and_after(as_planner, panel_piece, sent):
    form = url("piece-measures", panel_piece)
    as_planner.post(form, sent | {"picture": file(encoded(lighthouse()))})
    panel = Panel.objects.get()
    assert "painted by hand" not in as_planner.get(form).content.decode()
    seen = int(cells_array(panel)[0, 0])
    assert seen == int(cells_array(panel)[0, 1]) != 1
    cells_paint(panel=panel, stroke=stroke_of_runs([0, 2, 1, seen], panel.rows * panel.columns), palette=panel.palette)
    page = re.sub(r"\s+", " ", as_planner.get(form).content.decode())
    act = page.split('aria-label="The next step"')[1]
    assert "2 cells were painted by hand or locked. With another picture or another size" in act
    same = as_planner.post(form, sent | {"versions": "2-2"}, follow=True).content.decode()
    assert "went with the earlier chart" not in same and int(cells_array(Panel.objects.get())[0, 0]) == 1
    other = sent | {"versions": "3-3", "picture": file(encoded(lighthouse()))}
    after = as_planner.post(form, other, follow=True).content.decode()
    assert "2 cells painted by hand or locked went with the earlier chart; it can be put back." in after
    assert "Put the earlier chart back" in after


def test_the_wishes_for_tying_outlast_the_form(as_planner, panel_piece, sent):
    form = url("piece-measures", panel_piece)
    as_planner.post(form, sent | {"picture": file(encoded(lighthouse()))})
    wishes = Wishes(between_rows=False, winding=True)
    tying_choose(piece=Piece.objects.get(), version=2, wishes=wishes)
    assert as_planner.post(form, sent | {"versions": "3-1", "width": "30"}).status_code == 302
    piece = Piece.objects.get()
    assert wishes_of(piece) == wishes and piece.measures["width"] == 30


def test_the_panel_feeds_the_estimate(as_planner, panel_piece, sent, stocked):
    as_planner.post(url("piece-measures", panel_piece), sent | {"picture": file(encoded(lighthouse()))})
    piece = Piece.objects.select_related("panel").get()
    catalogue = catalogue_now()
    measures = kind.calc_measures(piece.measures, catalogue=catalogue, built_at="venue", panel=piece.panel)
    chart = chart_of(piece.panel, catalogue.sheet(piece.panel.sheet_id))
    assert dict(measures.counts) == {piece.panel.palette[number]: n for number, n in chart.counts().items()}
    assert measures.nominal_in == 5 and measures.cells == 572


def test_a_panel_too_large_for_balloons_is_drawn_flat(panel_piece, sheets, latex):
    rng = np.random.default_rng(4)
    cells = rng.integers(-1, 2, (120, 110)).astype("<i2")
    panel = Panel.objects.create(
        piece=panel_piece, sheet=sheets["large"], rows=120, columns=110, cells=cells.tobytes(),
        palette=[latex["red"].pk, latex["sky"].pk],
    )  # fmt: skip
    panel_piece.panel = panel
    svg = kind.drawing(panel_piece, catalogue_now())
    drawn, _, gaps = svg.partition('class="gaps"')
    assert sum(map(int, re.findall(r"h(\d+)", drawn))) == (cells >= 0).sum() and "<use" not in svg
    # A dot for each empty cell, or it would look like a white balloon.
    assert sum(map(int, re.findall(r"h(\d+)", gaps))) == (cells < 0).sum() and 'stroke-dasharray="0 1"' in gaps
    assert "gaps" not in flat_svg(
        chart_of(panel, catalogue_now().sheet(panel.sheet_id)), ["#ff0000", "#0000ff"], title="x", dotted=False
    )


def test_a_first_picture_needs_no_colours_ticked_by_hand(as_planner, panel_piece, stocked):
    """All that fit are ticked, unless the client named some."""

    def ticked():
        page = as_planner.get(url("piece-measures", panel_piece)).content.decode()
        return {int(one) for one in re.findall(r'name="colours" value="(\d+)"[^>]* checked', page)}

    page = as_planner.get(url("piece-measures", panel_piece)).content.decode()
    assert ticked() == {int(one) for one in re.findall(r'name="colours" value="(\d+)"', page)} > {stocked["red"].pk}
    panel_piece.measures |= {"colours": ["red", "white"]}
    panel_piece.save()
    assert ticked() == {stocked["red"].pk, stocked["white"].pk}


def test_a_good_picture_is_kept_while_another_answer_is_put_right(as_planner, panel_piece, sent):
    refused_form = sent | {"width": "-1", "picture": file(encoded(lighthouse()))}
    page = as_planner.post(url("piece-measures", panel_piece), refused_form).content.decode()
    assert "lighthouse.png is kept" in page
    kept = re.search(r'name="kept" value="([^"]+)"', page).group(1)
    assert as_planner.post(url("piece-measures", panel_piece), sent | {"kept": kept}).status_code == 302
    panel_piece.refresh_from_db()
    assert panel_piece.panel.picture.original_name == "lighthouse.png"
    # What nothing came of goes; what the panel uses stays, and its bytes with it.
    StoredFile.objects.update(created=timezone.now() - timedelta(days=2))
    assert files_sweep(now=timezone.now()) == 1
    assert file_read(file=panel_piece.panel.picture)


def test_only_a_token_that_was_given_out_brings_a_picture_back(as_planner, panel_piece, sent):
    page = as_planner.post(
        url("piece-measures", panel_piece), sent | {"width": "-1", "picture": file(encoded(lighthouse()))}
    ).content.decode()
    kept = re.search(r'name="kept" value="([^"]+)"', page).group(1)
    for token in (kept + "x", "7", ""):
        answer = as_planner.post(url("piece-measures", panel_piece), sent | {"kept": token})
        assert answer.status_code == 422 and "Choose a picture" in answer.content.decode()


def test_a_picture_that_the_disk_lost_is_asked_for_again(as_planner, panel_piece, sent):
    as_planner.post(url("piece-measures", panel_piece), sent | {"picture": file(encoded(lighthouse()))})
    file_path(StoredFile.objects.get().name).unlink()
    answer = as_planner.post(url("piece-measures", panel_piece), sent | {"versions": "2-1"})
    assert answer.status_code == 422 and "no longer on the disk" in answer.content.decode()


def test_another_picture_in_a_form_already_sent_is_not_dropped_in_silence(as_planner, panel_piece, sent):
    """Back, another picture, send: the key is the first sending's."""
    once = sent | {"request_key": "k1"}
    first = {"picture": file(encoded(lighthouse()))}
    assert as_planner.post(url("piece-measures", panel_piece), once | first).status_code == 302
    again = {"picture": file(encoded(lighthouse()))}
    assert as_planner.post(url("piece-measures", panel_piece), once | again).status_code == 302
    other = {"picture": file(encoded(lighthouse().rotate(180)))}
    answer = as_planner.post(url("piece-measures", panel_piece), once | other)
    assert answer.status_code == 422 and "already sent" in answer.content.decode()
    assert StoredFile.objects.count() == 1


def test_two_pictures_at_once_and_more_than_any_picture_are_not_taken_in(as_planner, panel_piece, sent, settings):
    two = [file(encoded(lighthouse())), file(encoded(lighthouse()))]
    assert as_planner.post(url("piece-measures", panel_piece), sent | {"picture": two}).status_code == 400
    settings.REQUEST_MAX_BYTES = 1000
    answer = as_planner.post(url("piece-measures", panel_piece), sent | {"picture": file(b"x" * 2000)})
    assert answer.status_code == 400 and "more than is taken" in answer.content.decode()
