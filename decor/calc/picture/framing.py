"""Which part of a picture is shown, and how: levelled, cropped, turned, mirrored, lighter, with more contrast.

They are done in this order:

1. the crop is taken from the upright picture, levelled about the crop's own centre in the same step, so that pixels
   are drawn anew once only; where levelling would show more than there is, the crop is drawn in towards its centre
   until it does not, in its own shape;
2. quarter turns, clockwise;
3. mirrored left to right, as it is seen then;
4. light: brightness bends the scale of codes and leaves black and white where they are, contrast then steepens it
   about the middle.

A frame that changes nothing gives the very pixels back.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Pixels = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

TURNS = (0, 90, 180, 270)
MOST_LEVEL_DEG = 45.0
"""Beyond an eighth of a turn the next quarter turn is nearer."""
_STRIP_ROWS = 128
"""Rows levelled at once, so that memory stays small for pictures of any size."""


@dataclass(frozen=True)
class Frame:
    """Args:
        left, top, right, bottom: the crop, as fractions of the upright picture, 0…1, left < right, top < bottom.
        turn: quarter turns clockwise in degrees: 0, 90, 180 or 270.
        level_deg: turns the picture clockwise by this much, −45…45.
        brightness, contrast: −1…1; 0 leaves the picture alone.
        mirror: left and right exchanged.

    Raises:
        ValueError: naming the argument that is wrong.
    """

    left: float = 0.0
    top: float = 0.0
    right: float = 1.0
    bottom: float = 1.0
    turn: int = 0
    level_deg: float = 0.0
    brightness: float = 0.0
    contrast: float = 0.0
    mirror: bool = False

    def __post_init__(self) -> None:
        for low, high in (("left", "right"), ("top", "bottom")):
            start, stop = getattr(self, low), getattr(self, high)
            if not 0.0 <= start < stop <= 1.0:
                raise ValueError(f"{low}, {high}: must be 0 … 1 with {low} below {high}, not {start!r} and {stop!r}")
        if self.turn not in TURNS:
            raise ValueError(f"turn: must be 0, 90, 180 or 270, not {self.turn!r}")
        _within("level_deg", self.level_deg, MOST_LEVEL_DEG)
        _within("brightness", self.brightness, 1.0)
        _within("contrast", self.contrast, 1.0)


def _within(name: str, value: float, most: float) -> None:
    if not -most <= value <= most:
        raise ValueError(f"{name}: must be between {-most:g} and {most:g}, not {value!r}")


def framed(image: npt.ArrayLike, frame: Frame) -> Pixels:
    """The picture within the frame.

    Args:
        image: (h, w, 3) or (h, w, 4) uint8, sRGB; a fourth channel says how solid a pixel is and is framed alike, but
            for its light.
        frame: what to do, see `Frame`.

    Returns:
        (h', w', 3 or 4) uint8; at least one pixel.

    Raises:
        ValueError: ``image`` is not such an array.

    >>> picture = np.arange(12, dtype=np.uint8).reshape(1, 4, 3)
    >>> framed(picture, Frame(right=0.5, mirror=True)).tolist()
    [[[3, 4, 5], [0, 1, 2]]]
    """
    pixels = _checked(image)
    box = _box(pixels.shape[0], pixels.shape[1], frame)
    seen = _levelled(pixels, box, frame.level_deg) if frame.level_deg else _cropped(pixels, box)
    if frame.turn:
        seen = np.rot90(seen, -frame.turn // 90)
    if frame.mirror:
        seen = seen[:, ::-1]
    if frame.brightness or frame.contrast:
        colours = light_codes(frame.brightness, frame.contrast)[seen[..., :3]]
        seen = np.concatenate([colours, seen[..., 3:]], axis=2)
    return np.ascontiguousarray(seen)


def framed_size(width: float, height: float, frame: Frame) -> tuple[float, float]:
    """Width and height of the framed picture, in the unit of those given; levelling leaves its shape alone.

    >>> framed_size(400, 300, Frame(right=0.5, turn=90))
    (300.0, 200.0)
    """
    wide, high = width * (frame.right - frame.left), height * (frame.bottom - frame.top)
    return (high, wide) if frame.turn in (90, 270) else (wide, high)


def light_codes(brightness: float, contrast: float) -> Pixels:
    """(256,) the code that each code of 8 bits becomes; never falls, and 0 and 255 stay.

    Brightness b raises the code as a share to the power 2^−b (a gamma curve). Contrast c bends both halves of the
    scale by the power 2^c, so that the slope at the middle is 2^c and neighbouring codes keep their order.
    """
    _within("brightness", brightness, 1.0)
    _within("contrast", contrast, 1.0)
    share = (np.arange(256) / 255.0) ** 2.0**-brightness
    half = 0.5 * (2.0 * np.minimum(share, 1.0 - share)) ** 2.0**contrast
    return np.asarray(np.rint(np.where(share < 0.5, half, 1.0 - half) * 255.0), dtype=np.uint8)


Box = tuple[int, int, int, int]


def _box(height: int, width: int, frame: Frame) -> Box:
    """The crop in whole pixels: top, bottom, left, right; at least one pixel."""
    top, bottom = _pixels_between(frame.top, frame.bottom, height)
    left, right = _pixels_between(frame.left, frame.right, width)
    return top, bottom, left, right


def _pixels_between(start: float, stop: float, size: int) -> tuple[int, int]:
    first = min(round(start * size), size - 1)
    return first, max(first + 1, round(stop * size))


def _cropped(pixels: Pixels, box: Box) -> Pixels:
    top, bottom, left, right = box
    return pixels[top:bottom, left:right]


def _levelled(pixels: Pixels, box: Box, level_deg: float) -> Pixels:
    top, bottom, left, right = box
    high, wide = bottom - top, right - left
    angle = math.radians(level_deg)
    centre = ((top + bottom - 1) / 2.0, (left + right - 1) / 2.0)
    scale = _scale_inside(pixels.shape[:2], box, angle)
    cos, sin = math.cos(angle) * scale, math.sin(angle) * scale
    across = np.arange(wide) - (wide - 1) / 2.0
    seen = np.empty((high, wide, pixels.shape[2]), dtype=np.uint8)
    for start in range(0, high, _STRIP_ROWS):
        down = (np.arange(start, min(start + _STRIP_ROWS, high)) - (high - 1) / 2.0)[:, None]
        # What stands at (down, across) once the picture is turned clockwise stood here before.
        y = centre[0] + down * cos - across * sin
        x = centre[1] + down * sin + across * cos
        seen[start : start + _STRIP_ROWS] = _between_pixels(pixels, y, x)
    return seen


def _scale_inside(shape: tuple[int, ...], box: Box, angle: float) -> float:
    """By how much the turned crop is drawn in, 1 where it lies inside the picture anyway."""
    top, bottom, left, right = box
    half_high, half_wide = (bottom - top) / 2.0, (right - left) / 2.0
    cos, sin = abs(math.cos(angle)), abs(math.sin(angle))
    reach_down = half_high * cos + half_wide * sin
    reach_across = half_wide * cos + half_high * sin
    room_down = min((top + bottom) / 2.0, shape[0] - (top + bottom) / 2.0)
    room_across = min((left + right) / 2.0, shape[1] - (left + right) / 2.0)
    return min(1.0, room_down / reach_down, room_across / reach_across)


def _between_pixels(pixels: Pixels, y: Floats, x: Floats) -> Pixels:
    """The colours at places between pixel centres, from the four round each (bilinear)."""
    height, width = pixels.shape[:2]
    y, x = np.clip(y, 0.0, height - 1.0), np.clip(x, 0.0, width - 1.0)
    upper, first = y.astype(np.intp), x.astype(np.intp)
    lower, last = np.minimum(upper + 1, height - 1), np.minimum(first + 1, width - 1)
    down = (y - upper).astype(np.float32)[..., None]
    along = (x - first).astype(np.float32)[..., None]
    above = pixels[upper, first] * (1 - along) + pixels[upper, last] * along
    below = pixels[lower, first] * (1 - along) + pixels[lower, last] * along
    return np.asarray(np.rint(above * (1 - down) + below * down), dtype=np.uint8)


def _checked(image: npt.ArrayLike) -> Pixels:
    pixels = np.asarray(image)
    if pixels.dtype != np.uint8 or pixels.ndim != 3 or pixels.shape[2] not in (3, 4) or not pixels.size:
        raise ValueError(f"image: must be height × width × 3 or 4 bytes (uint8), not {pixels.shape} of {pixels.dtype}")
    return pixels
