"""Pictures as people send them, made for the tests of what is taken and what is refused."""

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageDraw

from decor.studio.pictures import PictureRefused, picture_array, read_picture

CORNERS = {"red": (220, 40, 40), "green": (40, 180, 60), "blue": (40, 60, 200), "yellow": (240, 200, 40)}


def encoded(image, kind="JPEG", **options):
    out = io.BytesIO()
    image.save(out, kind, **({"quality": 95} | options))
    return out.getvalue()


def four_corners(width=96, height=64):
    """Red and green on top, blue and yellow below: any turn or mirroring shows."""
    image = Image.new("RGB", (width, height), CORNERS["red"])
    draw = ImageDraw.Draw(image)
    draw.rectangle((width // 2, 0, width, height // 2 - 1), CORNERS["green"])
    draw.rectangle((0, height // 2, width // 2 - 1, height), CORNERS["blue"])
    draw.rectangle((width // 2, height // 2, width, height), CORNERS["yellow"])
    return image


def noise(width=120, height=90, channels=3):
    """Grain over a slope, as in a photograph: no few colours hold most of it."""
    slope = np.linspace(0, 200, width)[None, :, None] + np.linspace(0, 30, height)[:, None, None]
    grain = np.random.default_rng(6).integers(0, 26, (height, width, channels))
    return Image.fromarray((slope + grain).astype(np.uint8))


def opened(clean):
    return Image.open(io.BytesIO(clean.data))


def corners_of(image):
    """The names of the four corners' colours, row by row."""
    rgb = image.convert("RGB")
    width, height = rgb.size
    spots = [(x, y) for y in (height // 4, 3 * height // 4) for x in (width // 4, 3 * width // 4)]
    seen = [np.array(rgb.getpixel(spot)) for spot in spots]
    return [min(CORNERS, key=lambda name: np.abs(colour - CORNERS[name]).sum()) for colour in seen]


def refusal(data):
    with pytest.raises(PictureRefused) as refused:
        read_picture(data)
    assert refused.value.message == str(refused.value)
    with pytest.raises(PictureRefused):
        picture_array(data, 100)
    return refused.value.message


def png_chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png_of(width, height, body=b""):
    header = png_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    data = png_chunk(b"IDAT", zlib.compress(body))
    return b"\x89PNG\r\n\x1a\n" + header + data + png_chunk(b"IEND", b"")
