"""A phone's own pictures (HEIF, ISO/IEC 23008-12): single ones, bursts, broken ones, and what is not one."""

import io
import subprocess
import sys

import numpy as np
import pillow_heif
import pytest
from PIL import ExifTags, Image

from decor.studio.pictures import picture_array, read_picture
from tests.studio.sent import CORNERS, corners_of, four_corners, noise, opened, refusal


def heic(*pictures, primary=0, **options):
    """As a phone writes it: one picture, or a burst of them with the one that is to be shown."""
    out = io.BytesIO()
    first, *rest = pictures
    first.save(out, "HEIF", save_all=bool(rest), append_images=rest, primary_index=primary, **options)
    return out.getvalue()


@pytest.fixture
def phone():
    pillow_heif.register_heif_opener()


def test_a_phones_own_format_becomes_jpeg(phone):
    clean = read_picture(heic(noise(), quality=90))
    assert (clean.content_type, clean.width, clean.height, clean.notes) == ("image/jpeg", 120, 90, ())
    difference = np.abs(np.asarray(opened(clean)).astype(int) - np.asarray(noise()))
    assert difference.mean() < 14


def test_of_a_burst_the_main_picture_is_taken_and_that_is_said(phone):
    others = [Image.new("RGB", (96, 64), name) for name in ("black", "white")]
    clean = read_picture(heic(others[0], four_corners(), others[1], primary=1, quality=95))
    assert corners_of(opened(clean)) == list(CORNERS)
    assert clean.notes == ("This file holds 3 pictures; the main one is used.",)


def test_a_phones_picture_with_see_through_parts_and_one_held_sideways(phone):
    image = four_corners().convert("RGBA")
    image.paste((0, 0, 0, 0), (0, 0, 48, 32))
    clean = read_picture(heic(image, quality=95))
    assert clean.has_alpha and picture_array(clean.data, 12)[5, 5, 3] == 0
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    turned = read_picture(heic(four_corners().transpose(Image.Transpose.ROTATE_90), quality=95, exif=exif.tobytes()))
    assert (turned.width, turned.height) == (96, 64)
    assert corners_of(opened(turned)) == list(CORNERS)


def test_a_phones_picture_that_breaks_off(phone):
    data = heic(noise(400, 300), quality=80)
    for share in (0.02, 0.3, 0.6, 0.9):
        assert "damaged or breaks off" in refusal(data[: max(24, int(len(data) * share))])


def test_films_and_newer_formats_are_told_what_to_do():
    for brand in (b"avif", b"isom", b"qt  "):
        sent = b"\x00\x00\x00\x18ftyp" + brand + b"\x00" * 60
        assert refusal(sent) == "Films and AVIF pictures cannot be read. Send a picture as JPEG, PNG, WebP or HEIC."


def test_the_decoder_of_phones_is_loaded_for_their_pictures_only():
    code = (
        "import sys, io; from PIL import Image; from decor.studio.pictures import read_picture; out = io.BytesIO();"
        "Image.new('RGB', (9, 9)).save(out, 'PNG'); read_picture(out.getvalue()); print('pillow_heif' in sys.modules)"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "False"


# What is taken, and said
