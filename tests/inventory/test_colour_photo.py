"""A colour out of a photograph, tapped with and without a script."""

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from skimage.color import deltaE_ciede2000, rgb2lab

from inventory.models import ColourPhoto, Latex
from inventory.photos import photos_sweep
from tests.walk import card_photo

SKY = (125, 179, 216)


def send(client, item, data, name="sky.jpg"):
    given = {"photo": SimpleUploadedFile(name, data, "image/jpeg")}
    return client.post(reverse("inventory:colour-photo-new", args=[item.pk]), given)


@pytest.fixture
def photo(as_planner, red):
    assert send(as_planner, red, card_photo(SKY)).status_code == 302
    return ColourPhoto.objects.get()


def page(client, photo):
    return client.get(reverse("inventory:colour-photo", args=[photo.pk]))


def spot(client, photo, **given):
    return client.post(reverse("inventory:colour-photo-spot", args=[photo.pk]), given)


def middle(share):
    return (share[0] + share[2]) / 2, (share[1] + share[3]) / 2


def far(rgb, other):
    codes = [[[int(rgb[at : at + 2], 16) / 255 for at in (1, 3, 5)]], [[part / 255 for part in other]]]
    return float(deltaE_ciede2000(rgb2lab(codes)[0, 0], rgb2lab(codes)[1, 0]))


def test_the_colour_is_set_right_by_the_card_and_taken_over(as_planner, red, photo):
    answer = page(as_planner, photo)
    reading = answer.context["reading"]
    assert far(reading.rgb, SKY) < 2 and not reading.doubts
    text = answer.content.decode()
    assert "Plainly another colour." in text and "Read well" in text and red.rgb in text
    assert "Read its colour from a photo" in as_planner.get(reverse("inventory:item", args=[red.pk])).content.decode()
    taken = as_planner.post(reverse("inventory:colour-photo-take", args=[photo.pk]), {"rgb": reading.rgb})
    assert taken["Location"] == reverse("inventory:item", args=[red.pk])
    assert Latex.objects.get().rgb == reading.rgb
    again = page(as_planner, photo).content.decode()
    assert "Hardly to be told apart." in again


def test_card_and_balloon_were_found(photo):
    x, y = middle(photo.card)
    assert 0.1 < x < 0.4 and 0.2 < y < 0.8
    x, y = middle(photo.balloon)
    assert 0.55 < x < 0.95 and 0.2 < y < 0.8


def test_a_tap_with_a_script_sends_shares(as_planner, photo):
    on_card = dict(zip(("share_x", "share_y"), map(str, middle(photo.card)), strict=True))
    answer = spot(as_planner, photo, which="balloon", **on_card, **{"spot.x": "7", "spot.y": "7"})
    assert answer["Location"] == reverse("inventory:colour-photo", args=[photo.pk]) + "?which=balloon"
    photo.refresh_from_db()
    assert middle(photo.balloon) == pytest.approx(middle(photo.card), abs=0.001)
    reading = page(as_planner, photo).context["reading"]
    assert far(reading.rgb, (255, 255, 255)) < 2  # the card itself is white
    assert "Card and balloon are read at the same place." in reading.doubts


def test_a_tap_without_one_sends_pixels_of_the_shown_picture(as_planner, photo):
    text = page(as_planner, photo).content.decode()
    wide, high = (int(n) for n in re.search(r'type="image"[^>]*width="(\d+)" height="(\d+)"', text).groups())
    pixels = {"spot.x": str(wide * 3 // 4), "spot.y": str(high // 2)}
    spot(as_planner, photo, which="balloon", share_x="", share_y="", **pixels)
    photo.refresh_from_db()
    assert middle(photo.balloon) == pytest.approx((0.75, 0.5), abs=0.01)


def test_buttons_move_it_and_it_stays_within(as_planner, photo):
    before = middle(photo.card)
    spot(as_planner, photo, which="card", move="right", **{"spot.x": "0", "spot.y": "0"})
    photo.refresh_from_db()
    assert middle(photo.card)[0] == pytest.approx(before[0] + 0.06, abs=0.01)
    for _ in range(20):
        spot(as_planner, photo, which="card", move="up")
    photo.refresh_from_db()
    assert photo.card[1] == 0


@pytest.mark.parametrize(
    "given",
    [
        {"which": "balloon", "spot.x": "0", "spot.y": "0"},
        {"which": "balloon", "share_x": "nan", "share_y": "0.5"},
        {"which": "balloon", "share_x": "7", "share_y": "0.5"},
        {"which": "balloon", "spot.x": "999999", "spot.y": "1"},
        {"which": "wall", "share_x": "0.5", "share_y": "0.5"},
        {},
    ],
)
def test_what_points_nowhere_changes_nothing(as_planner, photo, given):
    before = (photo.card, photo.balloon)
    assert spot(as_planner, photo, **given).status_code == 422
    photo.refresh_from_db()
    assert (photo.card, photo.balloon) == before


def test_a_card_that_is_none_is_told(as_planner, photo):
    dark = ColourPhoto.objects.get()
    assert send(as_planner, photo.item, card_photo((0, 0, 0))).status_code == 302
    dark = ColourPhoto.objects.first()
    spot(as_planner, dark, which="card", share_x="0.75", share_y="0.5")
    text = page(as_planner, dark).content.decode()
    assert "The card is too dark or too coloured for a white card." in text
    assert "Take another photo" in text and "Use this colour" not in text


def test_the_picture_shows_where(as_planner, photo):
    answer = as_planner.get(reverse("inventory:colour-photo-picture", args=[photo.pk]))
    assert answer["Content-Type"] == "image/jpeg" and answer.content.startswith(b"\xff\xd8\xff")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "This file is empty."),
        (b"nothing of the kind", "This file is not a JPEG, PNG, WebP or HEIC picture."),
        (b"x" * (15 * 2**20 + 1), "This file is 16 MB; the most is 15 MB."),
        (card_photo(SKY, (40, 30)), "This picture is too small to look at: 48 pixels each way at least."),
    ],
)
def test_what_is_no_photo_is_refused_in_words(as_planner, red, data, words):
    answer = send(as_planner, red, data)
    assert answer.status_code == 422 and words in answer.content.decode()
    assert not ColourPhoto.objects.exists()


def test_no_photo_at_all(as_planner, red):
    answer = as_planner.post(reverse("inventory:colour-photo-new", args=[red.pk]), {})
    assert answer.status_code == 422 and "Choose a photograph." in answer.content.decode()


def test_only_balloons_have_a_colour(as_planner, pole):
    assert as_planner.get(reverse("inventory:colour-photo-new", args=[pole.pk])).status_code == 404


def test_nonsense_is_no_colour(as_planner, red, photo):
    answer = as_planner.post(reverse("inventory:colour-photo-take", args=[photo.pk]), {"rgb": "sky"})
    assert answer.status_code == 422 and Latex.objects.get().rgb == red.rgb


def test_not_for_crew_nor_for_nobody(as_crew, as_nobody, red):
    for client, status in ((as_crew, 403), (as_nobody, 302)):
        assert send(client, red, card_photo(SKY)).status_code == status
    assert not ColourPhoto.objects.exists()


def test_photos_that_nobody_took_are_forgotten(as_planner, red, photo):
    photos_sweep(now=timezone.now() + timedelta(days=13))
    assert ColourPhoto.objects.count() == 1
    send(as_planner, red, card_photo(SKY))
    taken = ColourPhoto.objects.first()
    as_planner.post(reverse("inventory:colour-photo-take", args=[taken.pk]), {"rgb": "#7db3d8"})
    photos_sweep(now=timezone.now() + timedelta(days=15))
    assert list(ColourPhoto.objects.all()) == [taken]
