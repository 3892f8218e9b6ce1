"""The door for pictures, tried with every kind of file that people and attackers send."""

import io
import struct
import time
import tracemalloc
import zlib
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from PIL import ExifTags, Image, ImageCms, ImageDraw, ImageFile, PngImagePlugin

from jobs.designs import images
from jobs.designs.images import MOST_BYTES, PictureRefused, picture_array, read_picture

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


# What comes in


@pytest.mark.parametrize(("kind", "stored_as"), [("JPEG", "image/jpeg"), ("PNG", "image/jpeg"), ("WEBP", "image/jpeg")])
def test_photographs_of_each_kind_become_jpeg(kind, stored_as):
    clean = read_picture(encoded(noise(), kind))
    assert clean.content_type == stored_as
    assert (clean.width, clean.height, clean.has_alpha) == (120, 90, False)
    assert opened(clean).format == "JPEG"
    difference = np.abs(np.asarray(opened(clean)).astype(int) - np.asarray(noise()))
    assert difference.mean() < 12  # the grain itself is what JPEG loses


def test_drawings_sent_without_loss_stay_without_loss():
    clean = read_picture(encoded(four_corners(), "PNG"))
    assert clean.content_type == "image/png"
    np.testing.assert_array_equal(np.asarray(opened(clean)), np.asarray(four_corners()))


def test_see_through_parts_are_kept_as_png_and_seen_on_white():
    image = four_corners().convert("RGBA")
    image.paste((0, 0, 0, 0), (0, 0, 48, 32))
    clean = read_picture(encoded(image, "PNG"))
    assert clean.has_alpha and clean.content_type == "image/png"
    assert opened(clean).convert("RGBA").getpixel((5, 5))[3] == 0
    pixels = picture_array(clean.data, 12)
    assert pixels[5, 5].tolist() == [255, 255, 255]
    assert tuple(pixels[5, 90]) == CORNERS["green"]


def test_half_see_through_webp_is_mixed_with_white():
    image = Image.new("RGBA", (40, 40), (0, 0, 0, 128))
    clean = read_picture(encoded(image, "WEBP", lossless=True))
    assert clean.has_alpha
    np.testing.assert_allclose(picture_array(clean.data, 4), 127, atol=1)


def test_an_alpha_channel_that_hides_nothing_is_dropped():
    clean = read_picture(encoded(noise().convert("RGBA"), "PNG"))
    assert not clean.has_alpha and clean.content_type == "image/jpeg"


def test_palettes_and_their_transparent_colour():
    image = four_corners().quantize(4)
    plain = read_picture(encoded(image, "PNG"))
    assert corners_of(opened(plain)) == ["red", "green", "blue", "yellow"]
    hole = image.getpixel((5, 5))
    clean = read_picture(encoded(image, "PNG", transparency=hole))
    assert clean.has_alpha
    assert picture_array(clean.data, 4)[5, 5].tolist() == [255, 255, 255]


def test_greys_of_8_and_16_bits_and_black_and_white():
    ramp = np.tile(np.arange(256), (40, 1))
    for image in (
        Image.fromarray(ramp.astype(np.uint8)),
        Image.fromarray((ramp * 257).astype(np.uint16)),
        Image.fromarray(ramp.astype(np.uint8)).convert("LA"),
    ):
        pixels = picture_array(read_picture(encoded(image, "PNG")).data, 4)
        np.testing.assert_array_equal(pixels, np.repeat(ramp[:, :, None], 3, axis=2))
    checks = Image.fromarray((ramp > 127).astype(np.uint8) * 255).convert("1")
    pixels = picture_array(read_picture(encoded(checks, "PNG")).data, 4)
    assert pixels[0, 0].tolist() == [0, 0, 0] and pixels[0, 255].tolist() == [255, 255, 255]


def test_printers_colours_are_turned_into_screen_colours():
    image = Image.new("CMYK", (64, 64), (0, 255, 255, 0))
    clean = read_picture(encoded(image))
    assert opened(clean).mode == "RGB"
    red, green, blue = opened(clean).getpixel((30, 30))
    assert red > 200 and green < 60 and blue < 60


def test_colours_are_read_by_the_pictures_own_profile():
    """A profile whose codes mean other colours: dropping it unread would shift every match."""
    srgb = ImageCms.createProfile("sRGB")
    profile = wide_profile()
    image = four_corners()
    clean = read_picture(encoded(image, "PNG", icc_profile=profile))
    assert "icc_profile" not in opened(clean).info
    swapped = np.asarray(opened(clean))[5, 5]
    expected = np.asarray(ImageCms.profileToProfile(image, ImageCms.ImageCmsProfile(io.BytesIO(profile)), srgb))[5, 5]
    np.testing.assert_array_equal(swapped, expected)
    assert np.abs(swapped.astype(int) - CORNERS["red"]).max() > 20


def test_a_profile_that_is_rubbish_is_passed_over():
    clean = read_picture(encoded(four_corners(), "PNG", icc_profile=b"not a profile at all"))
    assert corners_of(opened(clean)) == ["red", "green", "blue", "yellow"]


def test_a_turned_photograph_with_a_profile_is_still_turned():
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    clean = read_picture(encoded(four_corners(), exif=exif, icc_profile=wide_profile()))
    assert (clean.width, clean.height) == (64, 96)


def wide_profile():
    """sRGB's own profile with the red and the green primary exchanged."""
    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    entries = {bytes(data[at : at + 4]): at for at in range(132, 132 + 12 * struct.unpack_from(">I", data, 128)[0], 12)}
    red, green = entries[b"rXYZ"] + 4, entries[b"gXYZ"] + 4
    data[red : red + 8], data[green : green + 8] = data[green : green + 8], data[red : red + 8]
    name = data.find("sRGB".encode("utf-16-be"))
    while name >= 0:
        data[name : name + 8] = "Test".encode("utf-16-be")
        name = data.find("sRGB".encode("utf-16-be"))
    return bytes(data)


def test_the_first_frame_of_a_moving_picture():
    first, second = four_corners(), Image.new("RGB", (96, 64), "black")
    for kind in ("WEBP", "PNG"):
        data = encoded(first, kind, save_all=True, append_images=[second], duration=100)
        clean = read_picture(data)
        assert corners_of(opened(clean)) == ["red", "green", "blue", "yellow"]
        assert getattr(opened(clean), "n_frames", 1) == 1


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_way_a_camera_was_held(orientation):
    """Sent as a camera stores it: undoing the note's turn gives the scene back upright."""
    undo = {
        1: None,
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }[orientation]
    scene = four_corners()
    stored = scene if undo is None else scene.transpose(undo)
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    for kind in ("JPEG", "PNG", "WEBP"):
        data = encoded(stored, kind, exif=exif)
        clean = read_picture(data)
        assert (clean.width, clean.height) == scene.size
        assert corners_of(opened(clean)) == ["red", "green", "blue", "yellow"]
        assert corners_of(Image.fromarray(picture_array(data, 6))) == ["red", "green", "blue", "yellow"]


def test_place_camera_and_notes_are_dropped():
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "SecretCamera"
    exif[ExifTags.Base.Orientation] = 6
    exif.get_ifd(ExifTags.IFD.GPSInfo).update({1: "N", 2: (53.0, 20.0, 59.0), 3: "W", 4: (6.0, 15.0, 36.0)})
    notes = {"comment": b"SecretNote", "xmp": b"<x:xmpmeta>SecretPlace</x:xmpmeta>"}
    sent = encoded(noise(), exif=exif, **notes)
    assert b"SecretCamera" in sent and b"SecretNote" in sent and b"SecretPlace" in sent
    text = PngImagePlugin.PngInfo()
    text.add_text("Comment", "SecretNote")
    text.add_itxt("XML:com.adobe.xmp", "SecretPlace")
    for data in (
        sent,
        encoded(four_corners(), "PNG", exif=exif, pnginfo=text),
        encoded(noise(), "WEBP", exif=exif, xmp=notes["xmp"]),
    ):
        clean = read_picture(data)
        for word in (b"Secret", b"Exif", b"eXIf", b"tEXt", b"iTXt", b"iCCP", b"xmp"):
            assert word not in clean.data
        assert not opened(clean).getexif()


def test_huge_and_broken_notes_do_not_spoil_a_picture():
    huge = b"Exif\x00\x00MM\x00*\x00\x00\x00\x08" + b"\xff" * 65_000
    assert corners_of(opened(read_picture(encoded(four_corners(), exif=huge)))) == list(CORNERS)
    endless = b"Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x87\x69\x00\x04\x00\x00\x00\x01\x00\x00\x00\x08"
    assert corners_of(opened(read_picture(encoded(four_corners(), exif=endless)))) == list(CORNERS)


def test_what_hangs_on_behind_a_picture_is_not_kept():
    page = b"<script>alert(1)</script>"
    archive = b"PK\x03\x04" + b"\x00" * 40
    for kind in ("PNG", "JPEG", "WEBP"):
        clean = read_picture(encoded(four_corners(), kind) + page + archive)
        assert page not in clean.data and b"PK\x03\x04" not in clean.data


def test_the_clean_picture_is_itself_clean():
    clean = read_picture(encoded(four_corners().convert("RGBA"), "PNG"))
    assert read_picture(clean.data) == clean


# What is refused


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
        b"GIF89a" + b"\x00" * 40,
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
    assert refusal(data) == "This file is not a JPEG, PNG or WebP picture."


def test_pictures_of_other_kinds_that_decode_elsewhere():
    for kind in ("GIF", "BMP", "TIFF"):
        assert refusal(encoded(four_corners(), kind)) == "This file is not a JPEG, PNG or WebP picture."


@pytest.mark.parametrize(
    "drawing",
    [
        b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
        b'\xef\xbb\xbf<?xml version="1.0"?>\n<!DOCTYPE svg>\n<SVG onload="x()"></SVG>',
    ],
)
def test_svg_is_told_what_to_do(drawing):
    assert refusal(drawing).startswith("SVG drawings cannot be used here.")


def test_a_phones_own_format_is_told_what_to_do():
    assert "Send the photo as JPEG" in refusal(b"\x00\x00\x00\x18ftypheic" + b"\x00" * 60)


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


# Pixels for sampling


def test_a_photograph_is_decoded_no_finer_than_its_cells_need():
    data = encoded(noise(2400, 1800))
    assert picture_array(data, 48 * 36).shape == (450, 600, 3)  # 50 pixels a cell side: a quarter is enough
    assert picture_array(data, 10 * 10).shape == (225, 300, 3)
    assert picture_array(data, 240 * 180).shape == (1800, 2400, 3)
    assert picture_array(encoded(noise(2400, 1800), "PNG"), 100).shape == (1800, 2400, 3)


def test_coarser_decoding_keeps_the_pictures_colours():
    data = encoded(noise(1600, 1200))
    whole, coarse = picture_array(data, 1600 * 1200), picture_array(data, 40 * 30)
    assert coarse.shape == (300, 400, 3)
    means = whole.reshape(300, 4, 400, 4, 3).mean(axis=(1, 3))
    assert np.abs(means - coarse).mean() < 3


def test_flat_art_is_decoded_in_full_whatever_the_cells():
    assert picture_array(encoded(four_corners(1200, 900)), 100).shape == (900, 1200, 3)


def test_a_sideways_photograph_is_sampled_upright():
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    assert picture_array(encoded(noise(2400, 1800), exif=exif), 300).shape == (300, 225, 3)


def test_bad_cells_are_named():
    with pytest.raises(ValueError, match=r"^max_cells:"):
        picture_array(encoded(four_corners()), 0)


def test_large_pictures_are_decoded_one_after_the_other(monkeypatch):
    """Several at once would each take their memory at the same time."""
    inside, most = [0], [0]
    real = images._upright_srgb

    def counted(image):
        inside[0] += 1
        most[0] = max(most[0], inside[0])
        time.sleep(0.02)
        try:
            return real(image)
        finally:
            inside[0] -= 1

    monkeypatch.setattr(images, "_upright_srgb", counted)
    data = encoded(Image.new("RGB", (40, 30), "red"), "PNG")
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: images.read_picture(data) if n % 2 else images.picture_array(data, 10), range(8)))
    assert most[0] == 1
