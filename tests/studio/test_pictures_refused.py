"""What is no picture, or more than one may send: each is told its own reason."""

import struct
import tracemalloc
import zlib

import numpy as np
import pytest
from PIL import Image, ImageFile

from decor.studio.pictures import MOST_BYTES, PictureRefused, read_picture
from tests.studio.sent import encoded, four_corners, noise, opened, png_chunk, png_of, refusal


def test_nothing_at_all():
    assert refusal(b"") == "This file is empty."


def test_more_than_15_mb():
    assert refusal(b"\xff\xd8\xff" + b"\x00" * MOST_BYTES).startswith("This file is 16 MB; the most is 15 MB.")


def test_a_header_of_50000_by_50000_is_refused_before_decoding():
    data = png_of(50_000, 50_000, b"\x00" * 1000)
    tracemalloc.start()
    assert "more than 40 million pixels" in refusal(data)
    assert tracemalloc.get_traced_memory()[1] < 5_000_000
    tracemalloc.stop()


@pytest.mark.parametrize("size", [(8_001, 5_000), (10_000, 10_000), (15_000, 10_000), (1, 40_000_001)])
def test_just_above_and_far_above_40_megapixels(size):
    assert "more than 40 million pixels" in refusal(png_of(*size))


def test_exactly_40_megapixels_pass():
    image = Image.new("L", (8_000, 5_000), 90)
    clean = read_picture(encoded(image, "PNG"))
    assert (clean.width, clean.height) == (8_000, 5_000)


def test_a_webp_header_that_claims_too_much():
    vp8x = b"\x02\x00\x00\x00" + (16_383).to_bytes(3, "little") * 2
    body = b"WEBPVP8X" + struct.pack("<I", 10) + vp8x + b"ANIM" + struct.pack("<I", 6) + b"\x00" * 6
    assert "40 million pixels" in refusal(b"RIFF" + struct.pack("<I", len(body)) + body)


@pytest.mark.parametrize(
    "data",
    [
        b"Dear studio, here is our logo.\n",
        b"BM" + b"\x00" * 60,
        b"%PDF-1.7\n",
        b"%!PS-Adobe-3.0 EPSF-3.0\n",
        b"\x00" * 500,
        b"PK\x03\x04",
        b"<html><img src=x></html>",
        b"RIFF\x24\x00\x00\x00WAVEfmt ",
    ],
)
def test_text_and_other_files_whatever_they_are_called(data):
    assert refusal(data) == "This file is not a JPEG, PNG, WebP or HEIC picture."


def test_pictures_of_other_kinds_that_decode_elsewhere():
    assert refusal(encoded(four_corners(), "GIF")) == "GIF pictures cannot be read. Save it as PNG and send that."
    for kind in ("BMP", "TIFF"):
        assert refusal(encoded(four_corners(), kind)) == "This file is not a JPEG, PNG, WebP or HEIC picture."


@pytest.mark.parametrize(
    "drawing",
    [
        b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
        b'\xef\xbb\xbf<?xml version="1.0"?>\n<!DOCTYPE svg>\n<SVG onload="x()"></SVG>',
    ],
)
def test_svg_is_told_what_to_do(drawing):
    assert refusal(drawing).startswith("SVG drawings cannot be used here.")


@pytest.mark.parametrize(("size", "way"), [((1, 1), "wide"), ((1, 300), "wide"), ((300, 1), "high")])
def test_one_pixel_is_no_picture(size, way):
    with pytest.raises(PictureRefused, match=f"only one pixel {way}"):
        read_picture(encoded(Image.new("RGB", size, "red"), "PNG"))


def test_see_through_all_over_is_no_picture():
    for alpha in (0, 100):
        for kind in ("PNG", "WEBP"):
            with pytest.raises(PictureRefused, match="see-through all over"):
                read_picture(encoded(Image.new("RGBA", (40, 30), (200, 30, 40, alpha)), kind, lossless=True))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9])
def test_a_picture_that_breaks_off(kind, share):
    data = encoded(noise(400, 300), kind)
    assert "damaged or breaks off" in refusal(data[: max(30, int(len(data) * share))])


def test_a_picture_that_breaks_off_after_the_pdf_maker_was_loaded(monkeypatch):
    for kind in ("JPEG", "PNG"):
        data = encoded(noise(400, 300), kind)
        monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)  # as WeasyPrint sets it
        assert "damaged or breaks off" in refusal(data[: len(data) * 2 // 3])


def test_a_picture_whose_middle_is_rubbish():
    data = bytearray(encoded(noise(), "PNG"))
    data[len(data) // 2 : len(data) // 2 + 200] = b"\x55" * 200
    assert "damaged or breaks off" in refusal(bytes(data))


def test_a_note_that_unpacks_without_end():
    bomb = zlib.compress(b"\x00" * 60_000_000)
    data = encoded(four_corners(), "PNG")
    text = png_chunk(b"zTXt", b"Comment\x00\x00" + bomb)
    tracemalloc.start()
    assert "damaged" in refusal(data[:33] + text + data[33:])
    assert tracemalloc.get_traced_memory()[1] < 20_000_000
    tracemalloc.stop()


@pytest.mark.parametrize("seed", range(40))
def test_bytes_changed_at_random_are_read_or_refused_and_nothing_else(seed):
    rng = np.random.default_rng(seed)
    data = bytearray(encoded(noise(64, 48), ["JPEG", "PNG", "WEBP"][seed % 3]))
    for place in rng.integers(0, len(data), 12):
        data[place] = rng.integers(0, 256)
    try:
        clean = read_picture(bytes(data))
    except PictureRefused as refused:
        assert refused.message.endswith(".")
    else:
        assert opened(clean).size == (clean.width, clean.height)
