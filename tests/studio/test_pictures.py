"""The door for pictures, tried with every kind of file that people and attackers send."""

import io
import struct
import time
import zlib
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from PIL import ExifTags, Image, ImageCms, PngImagePlugin

from decor.studio import pictures as images
from decor.studio.pictures import picture_array, read_picture
from tests.studio.sent import CORNERS, corners_of, encoded, four_corners, noise, opened, png_chunk


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
    assert pixels[5, 5].tolist() == [255, 255, 255, 0]
    assert tuple(pixels[5, 90]) == (*CORNERS["green"], 255)


def test_half_see_through_webp_is_mixed_with_white():
    image = Image.new("RGBA", (40, 40), (0, 0, 0, 128))
    clean = read_picture(encoded(image, "WEBP", lossless=True))
    assert clean.has_alpha
    np.testing.assert_allclose(picture_array(clean.data, 4)[..., :3], 127, atol=1)


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
    assert plain.notes == () and clean.notes == ("Where this picture is see-through there are no balloons.",)
    assert picture_array(clean.data, 4)[5, 5].tolist() == [255, 255, 255, 0]


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
    assert clean.notes[0].startswith("This picture is in printer's colours")
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


def test_a_moving_picture_says_so():
    for kind in ("WEBP", "PNG"):
        data = encoded(
            four_corners(), kind, save_all=True, append_images=[Image.new("RGB", (96, 64), "black")], duration=100
        )
        assert read_picture(data).notes == ("This picture moves; its first frame is used.",)


def test_one_colour_all_over_says_so():
    for sent in (encoded(Image.new("RGB", (50, 40), "red"), "PNG"), encoded(Image.new("L", (50, 40), 90), "PNG")):
        assert read_picture(sent).notes == ("This picture is all one colour, and so is a panel of it.",)
    assert read_picture(encoded(four_corners(), "PNG")).notes == ()


def test_16_bits_a_colour_lose_only_their_lower_half():
    """Written by hand as PNG (ISO/IEC 15948): Pillow has no such pictures to write."""
    ramp = np.arange(0, 65_536, 257, dtype=">u2")
    rows = np.stack([ramp, ramp[::-1], np.full_like(ramp, 30_000)], axis=-1).astype(">u2")
    body = b"".join(b"\x00" + rows.tobytes() for _ in range(8))
    header = png_chunk(b"IHDR", struct.pack(">IIBBBBB", 256, 8, 16, 2, 0, 0, 0))
    data = b"\x89PNG\r\n\x1a\n" + header + png_chunk(b"IDAT", zlib.compress(body)) + png_chunk(b"IEND", b"")
    pixels = picture_array(data, 4)
    assert pixels.shape == (8, 256, 3)
    np.testing.assert_array_equal(pixels[3, :, 0], np.arange(256))
    np.testing.assert_array_equal(pixels[3, :, 1], np.arange(256)[::-1])
    assert set(pixels[..., 2].ravel().tolist()) == {30_000 >> 8}
    greys = encoded(Image.fromarray(np.tile(ramp, (8, 1)).astype(np.uint16)), "PNG")
    for fine in (data, greys):
        assert read_picture(fine).notes[0].startswith("This picture has 16 bits a colour")
    assert read_picture(encoded(noise(), "PNG")).notes == ()


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
