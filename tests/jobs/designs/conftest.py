"""One event with a store of sheets and balloons, as the designs' tests need it."""

import io
from datetime import UTC, date, datetime

import numpy as np
import pytest
from PIL import Image, ImageDraw

from inventory.models import Item, Latex, Lot, Sheet
from jobs.clients.models import Client as Customer
from jobs.designs.catalogue import catalogue_now
from jobs.designs.models import Piece
from jobs.events.models import Event, Venue

COLOURS = {
    "white": "#f4f2ec",
    "red": "#c8322b",
    "navy": "#1f3a63",
    "sky": "#7db3d8",
    "yellow": "#f0c330",
    "green": "#4f8a47",
    "black": "#2a2a2c",
}


@pytest.fixture
def sheets(studio) -> dict[str, Sheet]:
    common = {"kind": Item.Kind.SHEET, "returnable": True, "lattice": "offset"}
    return {
        "small": Sheet.objects.create(
            name="Net 11 × 9", rows=11, columns=9, pitch_m=0.127, sized_diameter_m=0.12,
            tabs_per_side=11, tabs_per_end=9, pack_price=9, uses=3, **common,
        ),
        "large": Sheet.objects.create(
            name="Net 22 × 13", rows=22, columns=13, pitch_m=0.127, sized_diameter_m=0.12,
            tabs_per_side=22, tabs_per_end=13, pack_price=16, uses=3, **common,
        ),
    }  # fmt: skip


@pytest.fixture
def latex(studio) -> dict[str, Latex]:
    """By words: "sky" is the round 5 in, "sky double" the double-ended 6 in, "sky 11" the round 11 in."""
    made = {}
    for suffix, size, shape in (("", 5, "round"), (" double", 6, "double-ended"), (" 11", 11, "round")):
        for colour, rgb in COLOURS.items():
            if shape == "double-ended" and colour == "green":
                continue
            made[colour + suffix] = Latex.objects.create(
                kind=Item.Kind.LATEX, name=f"{colour} {size} in {shape}", nominal_in=size, shape=shape,
                colour=colour, rgb=rgb, pack_size=100, pack_price=8,
            )  # fmt: skip
    return made


@pytest.fixture
def stocked(latex) -> dict[str, Latex]:
    """400 of every balloon, but no yellow round 5 in."""
    Lot.objects.bulk_create(
        Lot(item=item, quantity=400, arrives_on=date(2025, 1, 1)) for name, item in latex.items() if name != "yellow"
    )
    return latex


@pytest.fixture
def event(studio) -> Event:
    return Event.objects.create(
        title="Harbour library centenary",
        client=Customer.objects.create(name="Quayside Library Friends"),
        venue=Venue.objects.create(name="Quay Hall", time_zone="Europe/Dublin"),
        load_in=datetime(2031, 6, 13, 8, tzinfo=UTC),
        doors=datetime(2031, 6, 13, 16, tzinfo=UTC),
        ends=datetime(2031, 6, 13, 22, tzinfo=UTC),
        strike=datetime(2031, 6, 13, 23, tzinfo=UTC),
    )


@pytest.fixture
def catalogue(sheets, latex):
    return catalogue_now()


ROUGH_PANEL = {"rough": True, "width": 3.3, "height": 2.6, "unit": "m", "loading": "paired", "colours": []}
ROUGH_COLUMN = {
    "rough": True,
    "height": 1.8,
    "unit": "m",
    "balloons": 4,
    "pattern": "spiral",
    "colours": ["red", "white"],
}


@pytest.fixture
def panel_piece(event, sheets) -> Piece:
    return Piece.objects.create(event=event, kind="panel", title="Lighthouse", measures=dict(ROUGH_PANEL))


@pytest.fixture
def column_piece(event) -> Piece:
    return Piece.objects.create(event=event, kind="column", title="Columns", count=2, measures=dict(ROUGH_COLUMN))


def lighthouse(width: int = 520, height: int = 440) -> Image.Image:
    """A drawn lighthouse: sky, sea, a striped tower, a lamp."""
    image = Image.new("RGB", (width, height), COLOURS["sky"])
    draw = ImageDraw.Draw(image)
    x, y = width / 26, height / 22
    draw.rectangle((0, 19 * y, width, height), fill=COLOURS["navy"])
    draw.ellipse((4 * x, 14 * y, 23 * x, 26 * y), fill=COLOURS["green"])
    for band in range(5):
        colour = COLOURS["red"] if band % 2 == 0 else COLOURS["white"]
        top, wide = (6 + 2 * band) * y, 2 + 0.25 * band
        draw.rectangle(((13 - wide) * x, top, (13 + wide) * x, top + 2 * y), fill=colour)
    draw.rectangle((12 * x, 3 * y, 14 * x, 4 * y), fill=COLOURS["black"])
    draw.rectangle((12 * x, 4 * y, 24 * x, 5 * y), fill=COLOURS["yellow"])
    draw.rectangle((11 * x, 5 * y, 15 * x, 6 * y), fill=COLOURS["black"])
    return image


def encoded(image: Image.Image, kind: str = "PNG") -> bytes:
    out = io.BytesIO()
    image.save(out, kind)
    return out.getvalue()


def photo(width: int = 4000, height: int = 3000, seed: int = 1) -> bytes:
    """A 12 megapixel JPEG with soft colours and grain, as a camera gives."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0 : 1 : height * 1j, 0 : 1 : width * 1j].astype(np.float32)
    base = np.stack([0.5 + 0.5 * np.sin(6 * x + 2 * y), 0.4 + 0.5 * y, 0.5 + 0.5 * np.cos(5 * y - 3 * x)], axis=2)
    grain = rng.normal(0, 0.03, (height, width, 1)).astype(np.float32)
    return encoded(Image.fromarray((np.clip(base + grain, 0, 1) * 255).astype(np.uint8)), "JPEG")
