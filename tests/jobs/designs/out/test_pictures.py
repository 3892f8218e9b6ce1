"""Pictures to hand out, checked by what a viewer would see, with Pillow and SciPy as peers."""

import io
import json
import re

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image
from scipy import ndimage

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import KINDS, Lattice
from jobs.designs.models import Panel
from jobs.designs.out.pictures import flat_image, on_venue, panel_image
from tests.jobs.designs.test_piece_views import url

RED, SKY = (200, 50, 43), (125, 179, 216)


def half_and_half(kind: str = "square", rows: int = 20, columns: int = 20) -> Chart:
    cells = np.zeros((rows, columns), dtype=int)
    cells[:, columns // 2 :] = 1
    return Chart(cells, Lattice(kind, rows, columns, 0.1))


def middle(image: Image.Image, x: float, y: float = 0.5) -> np.ndarray:
    pixels = np.asarray(image.convert("RGB"), dtype=float)
    row, column = int(y * image.height), int(x * image.width)
    return pixels[row - 12 : row + 12, column - 12 : column + 12].mean(axis=(0, 1))


def redness(colour: np.ndarray) -> float:
    return colour[0] - colour[2]


@pytest.mark.parametrize("kind", KINDS)
def test_the_back_is_the_front_mirrored(kind):
    front = panel_image(half_and_half(kind), [RED, SKY], 400)
    back = panel_image(half_and_half(kind), [RED, SKY], 400, look="back")
    assert np.array_equal(np.asarray(back), np.asarray(front)[:, ::-1])


def test_the_evening_is_darker_and_warmer():
    day = panel_image(half_and_half(), [RED, (240, 240, 240)], 400)
    evening = panel_image(half_and_half(), [RED, (240, 240, 240)], 400, light="evening")
    by_day, by_night = middle(day, 0.75), middle(evening, 0.75)
    assert by_night.mean() < 0.85 * by_day.mean()
    assert redness(by_night) > redness(by_day) + 15


def test_from_afar_stripes_run_together_to_their_mean_in_linear_light():
    """Two cells of 0.1 m in turn: from 3 km sight keeps nothing of them apart; the mean is SciPy's, in linear light."""
    cells = np.tile([0, 1], (10, 10))
    chart = Chart(cells, Lattice("square", 10, 20, 0.1))
    near = panel_image(chart, [(0, 0, 0), (255, 255, 255)], 400)
    far = panel_image(chart, [(0, 0, 0), (255, 255, 255)], 400, look="distance", distance_m=3000.0)
    assert np.asarray(far, dtype=float)[:, 60:-60].std() < 6
    light = (np.asarray(near, dtype=float) / 255) ** 2.2
    expected = ndimage.gaussian_filter(light, (60, 60, 0))[100, 200].mean() ** (1 / 2.2) * 255
    assert np.asarray(far, dtype=float)[100, 200].mean() == pytest.approx(expected, abs=8)
    close = panel_image(chart, [(0, 0, 0), (255, 255, 255)], 400, look="distance", distance_m=2.0)
    assert np.abs(np.asarray(close, float) - np.asarray(near, float)).mean() < 4


def test_the_flat_chart_has_every_cell_where_it_stands():
    chart = Chart([[0, 1, -1], [1, 0, 1]], Lattice("offset", 2, 3, 0.1))
    image = np.asarray(flat_image(chart, [RED, SKY], 350))
    assert image.shape[:2] == (200, 350)
    assert tuple(image[50, 50]) == RED and tuple(image[50, 150]) == SKY
    assert tuple(image[150, 100]) == SKY and tuple(image[150, 200]) == RED and tuple(image[150, 20]) not in (RED, SKY)


def test_on_a_photograph_it_stands_between_its_corners_and_nowhere_else():
    venue = Image.new("RGB", (800, 600), (60, 60, 60))
    corners = [(0.3, 0.2), (0.7, 0.3), (0.7, 0.7), (0.3, 0.8)]
    seen = on_venue(venue, half_and_half(), [RED, SKY], corners)
    pixels = np.asarray(seen)
    assert (pixels[:, : int(0.28 * 800)] == 60).all() and (pixels[:, int(0.72 * 800) :] == 60).all()
    assert redness(middle(seen, 0.38)) > 60 and redness(middle(seen, 0.62)) < -40


def test_an_empty_cell_lets_the_wall_through():
    cells = np.zeros((20, 20), dtype=int)
    cells[5:15, 5:15] = -1
    chart = Chart(cells, Lattice("square", 20, 20, 0.1))
    venue = Image.new("RGB", (800, 800), (10, 200, 10))
    seen = on_venue(venue, chart, [RED], [(0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9)])
    assert tuple(np.asarray(seen)[400, 400]) == (10, 200, 10)


@pytest.mark.parametrize(
    "corners",
    [
        [(0.3, 0.2), (0.7, 0.8), (0.7, 0.2), (0.3, 0.8)],
        [(0.5, 0.5)] * 4,
        [(0.7, 0.2), (0.3, 0.2), (0.3, 0.8), (0.7, 0.8)],
    ],
)
def test_corners_that_are_no_panel_are_refused(corners):
    with pytest.raises(ValueError, match="corners"):
        on_venue(Image.new("RGB", (400, 300)), half_and_half(), [RED, SKY], corners)


@pytest.fixture
def panel(panel_piece, sheets, stocked) -> Panel:
    cells = np.zeros((11, 9), "<i2")
    cells[:, 4:] = 1
    return Panel.objects.create(
        piece=panel_piece, sheet=sheets["small"], rows=11, columns=9, palette=[stocked["sky"].pk, stocked["red"].pk],
        cells=cells.tobytes(),
    )  # fmt: skip


def picture_url(panel: Panel, kind: str, query: str = "") -> str:
    from django.urls import reverse

    return reverse("jobs:panel-picture", args=[panel.piece.event_id, panel.piece_id, kind]) + query


def test_every_look_light_and_kind_opens(as_planner, panel):
    page = as_planner.get(url("panel-pictures", panel.piece))
    assert page.status_code == 200 and "To keep" in page.content.decode()
    for look in ("balloons", "chart", "distance", "back"):
        for light in ("day", "evening"):
            answer = as_planner.get(picture_url(panel, "png", f"?look={look}&light={light}&distance=12&shown=1"))
            assert Image.open(io.BytesIO(answer.content)).format == "PNG"
    jpeg = as_planner.get(picture_url(panel, "jpeg", "?look=balloons&width=1200"))
    assert Image.open(io.BytesIO(jpeg.content)).format == "JPEG" and "attachment" in jpeg["Content-Disposition"]
    assert as_planner.get(picture_url(panel, "svg")).content.startswith(b'<svg xmlns="http://www.w3.org/2000/svg"')
    plain = json.loads(as_planner.get(picture_url(panel, "json")).content)
    assert [one["colour"] for one in plain["palette"]] == ["sky", "red"] and plain["cells"][0] == [0] * 4 + [1] * 5


def test_the_svg_is_what_was_asked_for_or_is_not_offered(as_planner, panel):
    """From behind it is the same drawing mirrored within its box; of lamps and distance there is none."""
    front, back = (
        as_planner.get(picture_url(panel, "svg", f"?look={look}")).content.decode() for look in ("balloons", "back")
    )
    left, _, width, _ = (float(number) for number in re.search(r'viewBox="([^"]+)"', front)[1].split())
    matrix = re.search(r"<g transform=\"matrix\((.*?)\)\">(.*)</g></svg>$", back, re.DOTALL)
    a, b, c, d, e, f = (float(number) for number in matrix[1].split())
    assert (b, c, d, f) == (0, 0, 1, 0)
    assert (a * left + e, a * (left + width) + e) == pytest.approx((left + width, left))
    drawn = front.split("</title>")[1].removesuffix("</svg>")
    assert matrix[2].split('class="cells"')[1][:2000] == drawn.split('class="cells"')[1][:2000]
    for query, offered in (("look=back", True), ("look=chart&light=evening", True), ("look=distance", False),
                           ("look=balloons&light=evening", False)):  # fmt: skip
        page = as_planner.get(url("panel-pictures", panel.piece) + "?" + query).content.decode()
        assert ("panel.svg" in page) is offered, query
        assert as_planner.get(picture_url(panel, "svg", "?" + query)).status_code == (200 if offered else 404)


def test_a_distance_beyond_reason_is_told_beside_its_field(as_planner, panel):
    answer = as_planner.get(url("panel-pictures", panel.piece) + "?look=distance&distance=0")
    assert answer.status_code == 422 and "0.5" in answer.content.decode()
    assert as_planner.get(picture_url(panel, "png", "?distance=abc")).status_code == 404


def test_a_panel_in_its_place_by_its_four_corners(as_planner, panel):
    out = io.BytesIO()
    Image.new("RGB", (640, 480), (40, 60, 40)).save(out, "JPEG")
    photo = SimpleUploadedFile("hall.jpg", out.getvalue(), "image/jpeg")
    sent = as_planner.post(url("panel-venue", panel.piece), {"photo": photo})
    assert sent.status_code == 302 and "photo=" in sent.url
    page = as_planner.get(sent.url).content.decode()
    assert "Where its corners are" in page and 'name="x0"' in page
    corners = "&x0=30&y0=20&x1=70&y1=20&x2=70&y2=80&x3=30&y3=80"
    there = as_planner.get(sent.url.replace("/place/", "/place/image/") + corners)
    seen = np.asarray(Image.open(io.BytesIO(there.content)), dtype=float)
    assert np.abs(seen[10, 10] - [40, 60, 40]).max() < 8 and np.abs(seen[240, 320] - [40, 60, 40]).max() > 40
    assert "Save this picture" in as_planner.get(sent.url + corners).content.decode()
    # Crossed, and all in one place: said in words, and no picture that cannot be shown.
    for crooked in (corners.replace("x1=70", "x1=10"), corners.replace("70", "30"), corners.replace("x1=70", "x1=abc")):
        told = as_planner.get(sent.url + crooked)
        assert told.status_code == 422 and "Save this picture" not in told.content.decode()
        assert 'role="alert"' in told.content.decode()
        assert as_planner.get(sent.url.replace("/place/", "/place/image/") + crooked).status_code == 404
