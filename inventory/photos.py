"""A balloon's colour from its photograph beside a white card: kept, looked at, taken over."""

import io
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt
from django.db import transaction
from django.utils import timezone
from PIL import Image, ImageDraw

from decor.calc.picture import white_card
from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from decor.studio.models import User
from decor.studio.pictures import CleanPicture, picture_array, seen_picture
from decor.studio.services import file_read, file_store
from inventory import stocking
from inventory.models import ColourPhoto, Latex

LONGEST = 1200
"""Pixels; a colour needs no more, and a page none so many."""
SIDES = {"card": 0.12, "balloon": 0.2}
"""How large a patch a tap looks at, as a share of the photo's shorter side."""
NUDGE = 0.06
KEPT_FOR = timedelta(days=14)
MOVES = {"left": (-NUDGE, 0.0), "right": (NUDGE, 0.0), "up": (0.0, -NUDGE), "down": (0.0, NUDGE)}
Share = tuple[float, float, float, float]


@dataclass(frozen=True)
class Reading:
    """`doubts`: sentences on why it may be wrong; `refusal` where nothing can be read at all."""

    rgb: str = ""
    difference: float = 0.0
    doubts: tuple[str, ...] = ()
    refusal: str = ""


def pixels_of(data: bytes) -> npt.NDArray[np.uint8]:
    return np.ascontiguousarray(picture_array(data, LONGEST * LONGEST)[..., :3])


def photo_add(*, item: Latex, picture: CleanPicture, original_name: str, by: User | None) -> ColourPhoto:
    """Keeps it small and proposes where card and balloon are. Raises ValueError in words when it is too small."""
    small = seen_picture(picture.data, LONGEST)
    pixels = pixels_of(small.data)
    try:
        card, balloon = white_card.proposed(pixels)
    except ValueError:
        raise ValueError("This picture is too small to look at: 48 pixels each way at least.") from None
    file = file_store(
        data=small.data,
        mime=small.content_type,
        original_name=original_name[:200],
        width_px=small.width,
        height_px=small.height,
    )
    shares = [_share(box, pixels) for box in (card, balloon)]
    return ColourPhoto.objects.create(item=item, file=file, card=shares[0], balloon=shares[1], by=by)


def _share(box: white_card.Box, pixels: npt.NDArray[np.uint8]) -> list[float]:
    height, width = pixels.shape[:2]
    return [round(side / size, 5) for side, size in zip(box, (width, height, width, height), strict=True)]


def _box(share: list[float], pixels: npt.NDArray[np.uint8]) -> white_card.Box:
    height, width = pixels.shape[:2]
    left, top, right, bottom = (
        round(side * size) for side, size in zip(share, (width, height, width, height), strict=True)
    )
    return left, top, right, bottom


def spot_set(*, photo: ColourPhoto, which: str, x: float, y: float) -> ColourPhoto:
    """A patch round a spot, given as shares of width and height; it stays within the photo."""
    wide, high = photo.file.width_px or 1, photo.file.height_px or 1
    side = SIDES[which] * min(wide, high)
    half_x, half_y = side / wide / 2, side / high / 2
    x, y = min(max(x, half_x), 1 - half_x), min(max(y, half_y), 1 - half_y)
    setattr(photo, which, [round(v, 5) for v in (x - half_x, y - half_y, x + half_x, y + half_y)])
    photo.save(update_fields=[which])
    return photo


def spot_move(*, photo: ColourPhoto, which: str, way: str) -> ColourPhoto:
    left, top, right, bottom = getattr(photo, which)
    across, down = MOVES[way]
    return spot_set(photo=photo, which=which, x=(left + right) / 2 + across, y=(top + bottom) / 2 + down)


def reading(*, photo: ColourPhoto, rgb_now: str) -> Reading:
    pixels = pixels_of(file_read(file=photo.file))
    try:
        found = white_card.seen(pixels, _box(photo.card, pixels), _box(photo.balloon, pixels))
    except ValueError as wrong:
        what, _, words = str(wrong).partition(": ")
        return Reading(refusal=f"The {what} {words}.")
    rgb = "#" + "".join(f"{round(float(part) * 255):02x}" for part in found.rgb)
    now = [int(rgb_now[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    difference = float(delta_e_2000(srgb_to_lab(found.rgb), srgb_to_lab(now)))
    doubts = ["Card and balloon are read at the same place."] if _overlap(photo.card, photo.balloon) else []
    return Reading(rgb, difference, (*doubts, *_doubts(found)))


def _overlap(one: list[float], other: list[float]) -> bool:
    return max(one[0], other[0]) < min(one[2], other[2]) and max(one[1], other[1]) < min(one[3], other[3])


def _doubts(found: white_card.Seen) -> list[str]:
    doubts = []
    if found.card_clipped > 0.1:
        doubts.append("The card is too bright in places. Take it with less light, or turn it a little.")
    if found.card_uneven > 4:
        doubts.append("The card is not lit evenly, or the patch is not wholly on the card.")
    if found.clipped > 0.15:
        doubts.append("The balloon is too bright in places to tell its colour.")
    if found.spread > 6:
        doubts.append("There is more than one colour where the balloon should be.")
    if found.cast > 2:
        doubts.append("The light is coloured, as lamps are: strong reds and oranges come out wrong. Use daylight.")
    return doubts


@transaction.atomic
def photo_take(*, photo: ColourPhoto, rgb: str) -> Latex:
    """The colour that was shown becomes the balloon's."""
    latex = Latex.objects.get(pk=photo.item_id)
    latex.rgb = rgb
    stocking.item_save(item=latex)
    photo.taken_at = timezone.now()
    photo.save(update_fields=["taken_at"])
    return latex


def photos_sweep(*, now: datetime) -> int:
    """Photographs of which nobody took the colour are forgotten after two weeks; their files go with the other idle
    ones."""
    return ColourPhoto.objects.filter(created__lt=now - KEPT_FOR, taken_at=None).delete()[0]


def marked(photo: ColourPhoto) -> bytes:
    """The photo as JPEG with both patches drawn on it, each a dark line on a light one, so that any colour shows it."""
    with Image.open(io.BytesIO(file_read(file=photo.file)), formats=("JPEG", "PNG")) as kept:
        picture = kept.convert("RGB")
    draw, line = ImageDraw.Draw(picture), max(2, min(picture.size) // 160)
    for name in ("card", "balloon"):
        left, top, right, bottom = _pixel_box(getattr(photo, name), picture.size)
        shape: Any = draw.ellipse if name == "balloon" else draw.rectangle
        shape((left, top, right, bottom), outline="white", width=3 * line)
        shape((left + line, top + line, right - line, bottom - line), outline="black", width=line)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=82)
    return out.getvalue()


def _pixel_box(share: list[float], size: tuple[int, int]) -> tuple[int, ...]:
    return tuple(round(side * size[at % 2]) for at, side in enumerate(share))
