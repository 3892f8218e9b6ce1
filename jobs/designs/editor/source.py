"""The picture that a chart was made of, framed as it was, to be held against the chart."""

import io
from dataclasses import replace

from PIL import Image

from decor.studio.pictures import picture_array
from decor.studio.services import file_read
from jobs.designs.models import Panel
from jobs.designs.pictures.aiming import PLAIN_FRAME, framing, framing_of
from jobs.designs.pictures.recipe import Recipe

LONGEST_SIDE = 1200
DETAIL_CELLS = 20_000
"""Enough of the picture's own detail for a phone's screen, however few cells the chart has."""


def has_source(panel: Panel) -> bool:
    return panel.picture_id is not None and panel.recipe.get("source", "picture") == "picture"


def source_jpeg(panel: Panel) -> bytes:
    """Raises FileNotFoundError, PictureRefused, RecipeRefused."""
    frame = Recipe.from_plain(panel.recipe).frame
    pixels = picture_array(file_read(file=panel.picture), max(panel.rows * panel.columns, DETAIL_CELLS))
    if replace(frame, ground=PLAIN_FRAME.ground) != PLAIN_FRAME:
        pixels = framing.framed(pixels, framing_of(frame))
    image = Image.fromarray(pixels[..., :3])
    image.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=82)
    return out.getvalue()
