"""The door for pictures: what comes in is checked, decoded once, turned upright and written anew, so
that nothing of the sent file but its pixels is kept."""

import io
import math
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import wraps
from threading import Lock
from typing import ParamSpec, TypeVar

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageCms, ImageFile, UnidentifiedImageError

from decor.calc.picture.sampling import is_flat_art

P, R = ParamSpec("P"), TypeVar("R")

MOST_BYTES = 15 * 1024 * 1024
MOST_PIXELS = 40_000_000
PIXELS_PER_CELL_SIDE = 10
"""Enough for a cell's mean: finer decoding changes under 1 % of cells in photographs (measured)."""

_FORMATS = ("JPEG", "PNG", "WEBP")
_PHONE = "HEIF"
_PHONE_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
"""Brands of ISO/IEC 23008-12 files, as phones write them."""
_JPEGS = ("JPEG", "MPO")  # some phones put several JPEGs in one file
_STARTS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"RIFF")
_FEW_COLOURS = 256
_ORIENTATION = 0x0112
_UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}

_SOLID = 128
"""A pixel that is less solid than this (of 255) shows no balloon."""

_KINDS = "JPEG, PNG, WebP or HEIC"
_TOO_MANY_PIXELS = "This picture has more than 40 million pixels. Save a smaller copy and send that."
_DAMAGED = "This picture is damaged or breaks off. Save it again, or send another copy."
_ONE_PIXEL = "This picture is only one pixel {}. Send the picture itself, in its full size."
_NOTHING_SOLID = "This picture is see-through all over, so nothing of it could be shown. Send one with solid parts."
_MOVES = "This picture moves; its first frame is used."
_PRINTERS = "This picture is in printer's colours; on screen and in balloons they look a little different."
_FINE = "This picture has 16 bits a colour; 8 of them are used, which no eye tells from it."
_SEE_THROUGH = "Where this picture is see-through there are no balloons."
_ONE_COLOUR = "This picture is all one colour, and so is a panel of it."


class PictureRefused(ValueError):
    """Why a file is not taken, in words for the person who sent it."""

    def __init__(self, message: str) -> None:
        self.message = message
        super().__init__(message)


@dataclass(frozen=True)
class CleanPicture:
    """A picture as it is stored: upright, in sRGB, its first frame or main picture only, without metadata. `notes`
    are sentences for the sender about what was made of the file."""

    data: bytes
    content_type: str
    width: int
    height: int
    has_alpha: bool
    notes: tuple[str, ...] = field(default=(), compare=False)


_DOOR = Lock()
"""Decoding the largest picture takes up to 900 MB (measured): one at a time in each process, or a few people who
send theirs together would fill the machine's memory."""


def _one_at_a_time(work: Callable[P, R]) -> Callable[P, R]:
    @wraps(work)
    def wrapper(*args: P.args, **kwargs: P.kwargs) -> R:
        with _DOOR:
            return work(*args, **kwargs)

    return wrapper


@_one_at_a_time
def read_picture(data: bytes) -> CleanPicture:
    """JPEG, PNG, WebP or HEIC, told by content, to a clean JPEG, or to PNG where it is see-through or drawn.

    Raises:
        PictureRefused: the file is empty, above 15 MB or 40 megapixels, damaged, no such picture, or nothing can be
            seen of it.
    """
    with _opened(data) as sent:
        image = _upright_srgb(sent)
        drawn = sent.format not in _JPEGS and _is_drawn(image)
        notes = _notes(sent, image, fine=_is_fine(data, sent))
    as_png = image.mode == "RGBA" or drawn
    out = io.BytesIO()
    if as_png:
        image.save(out, "PNG", compress_level=4)
    else:
        image.save(out, "JPEG", quality=90)
    kind = "image/png" if as_png else "image/jpeg"
    return CleanPicture(out.getvalue(), kind, image.width, image.height, image.mode == "RGBA", notes)


@_one_at_a_time
def picture_array(data: bytes, max_cells: int) -> npt.NDArray[np.uint8]:
    """Pixels for sampling that many cells: (h, w, 3), or (h, w, 4) where parts are see-through. The fourth channel
    says how solid a pixel is; the colours are then as they look on white paper.

    A JPEG is decoded at 1/2, 1/4 or 1/8 as long as a cell keeps 10 pixels a side; flat art at full
    size, as smaller decoding blurs its edges.

    Raises:
        PictureRefused: as for `read_picture`.
        ValueError: ``max_cells`` is below 1.
    """
    if max_cells < 1:
        raise ValueError(f"max_cells: must be 1 or more, not {max_cells}")
    with _opened(data) as sent:
        scale = _draft_scale(sent, max_cells)
        if scale > 1:
            sent.draft("RGB", (sent.width // scale, sent.height // scale))
        pixels = _pixels(sent)
    if scale > 1 and is_flat_art(pixels):
        with _opened(data) as sent:
            pixels = _pixels(sent)
    return pixels


@_one_at_a_time
def seen_picture(data: bytes, side: int, *, turn: int = 0, mirror: bool = False) -> CleanPicture:
    """A kept picture for the screen, at most ``side`` pixels long: turned clockwise by quarters, then mirrored.

    Raises:
        PictureRefused: as for `read_picture`.
    """
    with _opened(data) as sent:
        sent.draft("RGB", (side, side))
        image = _upright_srgb(sent)
    image.thumbnail((side, side))
    if turn:
        image = image.rotate(-turn, expand=True)
    if mirror:
        image = image.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    out = io.BytesIO()
    kind = "PNG" if image.mode == "RGBA" else "JPEG"
    image.save(out, kind, **({} if kind == "PNG" else {"quality": 85}))
    return CleanPicture(out.getvalue(), f"image/{kind.lower()}", image.width, image.height, image.mode == "RGBA")


def is_see_through(data: bytes) -> bool:
    """Whether parts of a kept picture are; its header says it.

    Raises:
        PictureRefused: as for `read_picture`.
    """
    with _opened(data) as kept:
        return kept.has_transparency_data


def _draft_scale(image: Image.Image, cells: int) -> int:
    if image.format not in _JPEGS:
        return 1
    side = math.sqrt(image.width * image.height / cells)
    return next((scale for scale in (8, 4, 2) if side / scale >= PIXELS_PER_CELL_SIDE), 1)


def _pixels(image: Image.Image) -> npt.NDArray[np.uint8]:
    upright = _upright_srgb(image)
    if upright.mode == "RGBA":
        alpha = upright.getchannel("A")
        upright = Image.alpha_composite(Image.new("RGBA", upright.size, "white"), upright)
        upright.putalpha(alpha)
    return np.asarray(upright)


def _is_fine(data: bytes, sent: Image.Image) -> bool:
    """16 bits a colour, which Pillow says of greys alone: a PNG's header has the depth as its 25th byte (ISO/IEC 15948,
    11.2.1)."""
    return sent.mode.startswith("I") or (sent.format == "PNG" and data[24] == 16)


def _notes(sent: Image.Image, image: Image.Image, *, fine: bool) -> tuple[str, ...]:
    """Refuses a picture of which nothing could be seen; says what was left out of the file, or looks different."""
    if min(image.size) == 1:
        raise PictureRefused(_ONE_PIXEL.format("wide" if image.width == 1 else "high"))
    if image.mode == "RGBA" and image.getchannel("A").getextrema()[1] < _SOLID:
        raise PictureRefused(_NOTHING_SOLID)
    notes = []
    frames = getattr(sent, "n_frames", 1)
    if frames > 1 and sent.format == _PHONE:
        notes.append(f"This file holds {frames} pictures; the main one is used.")
    elif frames > 1 and sent.format not in _JPEGS:  # the further ones of a JPEG are depths and previews of the first
        notes.append(_MOVES)
    if sent.mode == "CMYK":
        notes.append(_PRINTERS)
    if fine:
        notes.append(_FINE)
    if image.mode == "RGBA":
        notes.append(_SEE_THROUGH)
    if all(low == high for low, high in image.convert("RGB").getextrema()):
        notes.append(_ONE_COLOUR)
    return tuple(notes)


@contextmanager
def _opened(data: bytes) -> Iterator[Image.Image]:
    """The picture with its header checked, before any pixel is decoded."""
    if not data:
        raise PictureRefused("This file is empty.")
    if len(data) > MOST_BYTES:
        size = math.ceil(len(data) / (1024 * 1024))
        raise PictureRefused(f"This file is {size} MB; the most is 15 MB. Save a smaller copy and send that.")
    # The PDF maker switches this on for the whole process as it is loaded: broken pictures would then
    # come in with grey where they break off. It needs no such leniency, as it only sees clean ones.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(data), formats=_formats(data))
            if image.width * image.height > MOST_PIXELS:
                raise PictureRefused(_TOO_MANY_PIXELS)
            yield image
    except PictureRefused:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PictureRefused(_TOO_MANY_PIXELS) from None
    except UnidentifiedImageError:
        raise PictureRefused(_why_unknown(data)) from None
    except Exception as failure:
        # A hostile file can make a decoder raise nearly anything; the sender hears one thing.
        raise PictureRefused(_DAMAGED) from failure


def _formats(data: bytes) -> tuple[str, ...]:
    """A phone's format is loaded only for a picture that is in it: its decoder is large."""
    if not _is_phone(data):
        return _FORMATS
    import pillow_heif

    pillow_heif.register_heif_opener(thumbnails=False)
    return (_PHONE,)


def _is_phone(data: bytes) -> bool:
    """By the brands in its first box; AVIF is of the same family, and not of these."""
    if data[4:8] != b"ftyp":
        return False
    box = data[8 : min(int.from_bytes(data[:4], "big"), 256)]
    brands = {box[:4], *(box[at : at + 4] for at in range(8, len(box), 4))}
    return bool(brands & _PHONE_BRANDS) and not brands & {b"avif", b"avis"}


def _why_unknown(data: bytes) -> str:
    start = data[:1024].lstrip().lower()
    if data.startswith(_STARTS[:2]) or (data.startswith(_STARTS[2]) and data[8:12] == b"WEBP"):
        return _DAMAGED
    if _is_phone(data):
        return _DAMAGED
    if data[4:8] == b"ftyp":
        return f"Films and AVIF pictures cannot be read. Send a picture as {_KINDS}."
    if start.startswith(b"gif8"):
        return "GIF pictures cannot be read. Save it as PNG and send that."
    if b"<svg" in start:
        return "SVG drawings cannot be used here. Save the drawing as PNG and send that."
    return f"This file is not a {_KINDS} picture."


def _upright_srgb(image: Image.Image) -> Image.Image:
    """Decoded and turned as the camera said; 8 bits, RGB or, where something shows through, RGBA."""
    image.load()
    alpha = _alpha(image)
    plain = _eight_bit(image)
    converted = _by_profile(plain, image.info.get("icc_profile")) or plain.convert("RGB")
    if alpha is not None:
        converted.putalpha(alpha)
    turn = None
    with suppress(Exception):  # a broken note on rotation does not spoil the picture
        turn = _UPRIGHT.get(image.getexif().get(_ORIENTATION, 1))
    if turn is not None:
        converted = converted.transpose(turn)
    converted.info = {}  # or the encoder would write notes and profiles of the sent file again
    return converted


def _alpha(image: Image.Image) -> Image.Image | None:
    if not image.has_transparency_data:
        return None
    alpha = image.convert("RGBA").getchannel("A")
    lowest, _ = alpha.getextrema()
    return None if lowest == 255 else alpha


def _eight_bit(image: Image.Image) -> Image.Image:
    if image.mode in ("I", "I;16", "I;16B", "I;16L"):
        # Pillow's own conversion cuts 16-bit greys off at 255.
        codes = np.asarray(image).astype(np.int64) >> 8
        return Image.fromarray(np.clip(codes, 0, 255).astype(np.uint8))
    if image.mode in ("L", "RGB", "CMYK"):
        return image
    return image.convert("L" if image.mode in ("1", "LA", "La") else "RGB")


def _by_profile(image: Image.Image, profile: bytes | None) -> Image.Image | None:
    """The picture by its own colour profile, or None where it has none or one that does not fit."""
    if not profile:
        return None
    with suppress(ImageCms.PyCMSError, OSError, ValueError, TypeError):
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if "sRGB" in ImageCms.getProfileDescription(source):
            return None
        return ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    return None


def _is_drawn(image: Image.Image) -> bool:
    """Few colours or flat areas: JPEG would put smears round its edges."""
    if image.mode == "RGBA" or image.getcolors(_FEW_COLOURS) is not None:
        return True
    return is_flat_art(np.asarray(image))
