"""The door for pictures: what comes in is checked, decoded once, turned upright and written anew, so
that nothing of the sent file but its pixels is kept."""

import io
import math
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
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

_TOO_MANY_PIXELS = "This picture has more than 40 million pixels. Save a smaller copy and send that."
_DAMAGED = "This picture is damaged or breaks off. Save it again, or send another copy."


class PictureRefused(ValueError):
    """Why a file is not taken, in words for the person who sent it."""

    def __init__(self, message: str) -> None:
        self.message = message
        super().__init__(message)


@dataclass(frozen=True)
class CleanPicture:
    """A picture as it is stored: upright, in sRGB, its first frame only, without metadata."""

    data: bytes
    content_type: str
    width: int
    height: int
    has_alpha: bool


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
    """JPEG, PNG or WebP, told by content, to a clean JPEG, or to PNG where it is see-through or drawn.

    Raises:
        PictureRefused: the file is empty, above 15 MB or 40 megapixels, damaged, or no such picture.
    """
    with _opened(data) as sent:
        image = _upright_srgb(sent)
        drawn = sent.format not in _JPEGS and _is_drawn(image)
    as_png = image.mode == "RGBA" or drawn
    out = io.BytesIO()
    if as_png:
        image.save(out, "PNG", compress_level=4)
    else:
        image.save(out, "JPEG", quality=90)
    kind = "image/png" if as_png else "image/jpeg"
    return CleanPicture(out.getvalue(), kind, image.width, image.height, image.mode == "RGBA")


@_one_at_a_time
def picture_array(data: bytes, max_cells: int) -> npt.NDArray[np.uint8]:
    """Pixels for sampling that many cells: (h, w, 3), see-through parts on white.

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


def _draft_scale(image: Image.Image, cells: int) -> int:
    if image.format not in _JPEGS:
        return 1
    side = math.sqrt(image.width * image.height / cells)
    return next((scale for scale in (8, 4, 2) if side / scale >= PIXELS_PER_CELL_SIDE), 1)


def _pixels(image: Image.Image) -> npt.NDArray[np.uint8]:
    upright = _upright_srgb(image)
    if upright.mode == "RGBA":
        ground = Image.new("RGBA", upright.size, "white")
        upright = Image.alpha_composite(ground, upright).convert("RGB")
    return np.asarray(upright)


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
            image = Image.open(io.BytesIO(data), formats=_FORMATS)
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


def _why_unknown(data: bytes) -> str:
    start = data[:1024].lstrip().lower()
    if data.startswith(_STARTS[:2]) or (data.startswith(_STARTS[2]) and data[8:12] == b"WEBP"):
        return _DAMAGED
    if data[4:8] == b"ftyp":
        return "Photos in the HEIC or AVIF format cannot be read yet. Send the photo as JPEG."
    if b"<svg" in start:
        return "SVG drawings cannot be used here. Save the drawing as PNG and send that."
    return "This file is not a JPEG, PNG or WebP picture."


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
