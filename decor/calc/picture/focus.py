"""A guess at what counts in a picture: a face, or else the one thing that stands out.

It is a guess from colours and shapes alone; it has learned from nothing and recognises nobody. A face is a roundish
patch of skin colour that is not even all over (eyes, mouth, hair); the subject is where the picture differs most from
the rest of itself. Both can be wrong, so people see the guess before it counts and may paint their own.

References:
    K. Xiao et al., "Characterising the variations in ethnic skin colours: a new calibrated data base for human skin",
    Skin Research and Technology 23(1), 21-29, 2017: skin of all peoples has L* about 30…75, a* 5…17, b* 8…24 (read
    from memory); the limits here are wider, as light and cameras are not calibrated.
    R. Achanta et al., "Frequency-tuned salient region detection", CVPR 2009, 1597-1604: a pixel stands out by its
    colour's distance from the picture's mean colour in CIE Lab.
"""

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import srgb_to_lab
from decor.calc.picture.ground import plain_ground, shrunk

Pixels = npt.NDArray[np.uint8]
Marks = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

PROBE_SIDE = 128
"""Pixels a side, at most, at which the picture is looked at."""
_SKIN_HUE = (0.35, 3.2)
"""Least and most b* over a*."""
_SKIN_CHROMA = (9.0, 42.0)
_SKIN_DARKEST = 22.0

# Found by trying on open pictures; common practice, no source.
_FACE_SHARE = (0.008, 0.35)
"""A face takes at least and at most this much of the picture."""
_FACE_TALL = (0.75, 2.4)
"""Its height over its width, neck included."""
_FACE_FULL = 0.65
"""How much of the oval in its box is skin."""
_FACE_UNEVEN = (6.0, 50.0)
"""Least and most standard deviation of its codes: walls and sand are more even, metal and lamps less."""
_SUBJECT_SHARE = (0.02, 0.5)
_SUBJECT_HOLDS = 0.6
"""How much of all that stands out must lie in the found place."""


def found(image: npt.ArrayLike) -> Floats | None:
    """Where a face, or else the picture's subject, most likely is.

    Args:
        image: (h, w, 3) uint8 sRGB.

    Returns:
        (h, w) 0…1, 1 in the middle of it and 0 far from it; None where nothing stands out enough to guess.

    Raises:
        ValueError: ``image`` is not such an array.

    >>> found(np.full((30, 30, 3), 90, dtype=np.uint8)) is None
    True
    """
    pixels = np.asarray(image)
    if pixels.dtype != np.uint8 or pixels.ndim != 3 or pixels.shape[2] != 3 or not pixels.size:
        raise ValueError(f"image: must be height × width × 3 bytes (uint8), not {pixels.shape} of {pixels.dtype}")
    probe = shrunk(pixels, -(-max(pixels.shape[:2]) // PROBE_SIDE))
    box = _face(probe)
    if box is None:
        box = _subject(probe)
    return None if box is None else _oval(box, probe.shape[:2], pixels.shape[:2])


Box = tuple[float, float, float, float]
"""Middle down and across, half height and half width, in probe pixels."""


def _face(probe: Floats) -> Box | None:
    """The largest patch of skin with a face's shape, or None."""
    skin = _closed(_skin(probe))
    light = probe @ np.array([0.299, 0.587, 0.114])
    faces = [box for patch in _patches(skin) if (box := _face_box(patch, light)) is not None]
    return max(faces, key=lambda box: box[2] * box[3], default=None)


def _skin(probe: Floats) -> Marks:
    light, red, yellow = np.moveaxis(srgb_to_lab(probe / 255.0), -1, 0)
    chroma = np.hypot(red, yellow)
    warm = (yellow > _SKIN_HUE[0] * red) & (yellow < _SKIN_HUE[1] * red) & (red > 0.0)
    return np.asarray(warm & (chroma > _SKIN_CHROMA[0]) & (chroma < _SKIN_CHROMA[1]) & (light > _SKIN_DARKEST))


def _face_box(patch: Marks, light: Floats) -> Box | None:
    rows, columns = np.flatnonzero(patch.any(axis=1)), np.flatnonzero(patch.any(axis=0))
    if rows[0] == 0 or columns[0] == 0 or columns[-1] == patch.shape[1] - 1:
        return None  # wood and walls run out of the picture, faces seldom
    high, wide = rows[-1] - rows[0] + 1, columns[-1] - columns[0] + 1
    share = high * wide / patch.size
    if not _FACE_SHARE[0] <= share <= _FACE_SHARE[1] or not _FACE_TALL[0] <= high / wide <= _FACE_TALL[1]:
        return None
    # A neck hangs below: the face is the upper part, no more than 1.4 times as high as wide.
    high = min(high, round(1.4 * wide))
    box = (rows[0] + (high - 1) / 2.0, columns[0] + (wide - 1) / 2.0, high / 2.0, wide / 2.0)
    inside = _inside(box, patch.shape)
    uneven = float(light[inside].std())
    if patch[inside].mean() < _FACE_FULL or not _FACE_UNEVEN[0] <= uneven <= _FACE_UNEVEN[1]:
        return None
    return box


def _subject(probe: Floats) -> Box | None:
    """The box round what stands out most, where it holds most of that; None where it is spread out."""
    lab = srgb_to_lab(probe / 255.0)
    ground = plain_ground(np.rint(probe).astype(np.uint8))
    away = np.linalg.norm(
        _smooth(lab) - (lab[ground] if ground is not None else lab).reshape(-1, 3).mean(axis=0), axis=2
    )
    away = away * _towards_middle(away.shape)
    if away.max() < 10.0:
        return None
    stands_out = away >= away.mean() + away.std()
    patches = _patches(_closed(stands_out))
    if not patches:
        return None
    patch = max(patches, key=lambda one: float(away[one].sum()))
    if away[patch].sum() < _SUBJECT_HOLDS * away[stands_out].sum():
        return None
    down, across = np.nonzero(patch)
    box = (
        float(down.mean()),
        float(across.mean()),
        max(1.0, 2.0 * float(down.std())),
        max(1.0, 2.0 * float(across.std())),
    )
    share = 4.0 * box[2] * box[3] / patch.size
    return box if _SUBJECT_SHARE[0] <= share <= _SUBJECT_SHARE[1] else None


def _towards_middle(shape: tuple[int, ...]) -> Floats:
    """Less for what lies at the picture's edge: people put what counts in the middle."""
    down, across = (np.linspace(-1.0, 1.0, size) for size in shape)
    return np.asarray(np.exp(-(down[:, None] ** 2 + across**2)))


def _smooth(field: Floats) -> Floats:
    """Means over 5 × 5, edges repeated."""
    padded = np.pad(field, ((3, 2), (3, 2), (0, 0)), mode="edge")
    sums = padded.cumsum(axis=0).cumsum(axis=1)
    return np.asarray((sums[5:, 5:] - sums[:-5, 5:] - sums[5:, :-5] + sums[:-5, :-5]) / 25.0)


def _closed(places: Marks) -> Marks:
    """Without specks and small holes: what most of the 5 × 5 round it says."""
    return np.asarray(_smooth(places[..., None].astype(np.float64))[..., 0] > 0.5)


def _patches(places: Marks) -> list[Marks]:
    """The connected patches, over edges of places, without the smallest."""
    number = np.where(places, np.arange(1, places.size + 1).reshape(places.shape), 0)
    while True:
        spread = number
        for axis in (0, 1):
            spread = _highest_carried(spread, axis)
            spread = np.flip(_highest_carried(np.flip(spread, axis), axis), axis)
        if (spread == number).all():
            break
        number = spread
    names, sizes = np.unique(number[number > 0], return_counts=True)
    least = _FACE_SHARE[0] / 2 * places.size
    return [number == name for name, size in zip(names, sizes, strict=True) if size >= least]


def _highest_carried(number: npt.NDArray[np.int64], axis: int) -> npt.NDArray[np.int64]:
    """Along the axis every place takes the highest number met since the last closed one."""
    top = int(number.max()) + 1
    stretch = np.cumsum(number == 0, axis=axis)  # grows at each closed place, so that maxima start anew there
    carried = np.maximum.accumulate(number + stretch * top, axis=axis) - stretch * top
    return np.where(number > 0, carried, 0)


def _inside(box: Box, shape: tuple[int, ...]) -> Marks:
    return _away(box, shape) <= 1.0


def _away(box: Box, shape: tuple[int, ...]) -> Floats:
    """How far each place lies from the box's middle: 1 on the oval within it."""
    down = (np.arange(shape[0]) - box[0]) / box[2]
    across = (np.arange(shape[1]) - box[1]) / box[3]
    return np.asarray(np.sqrt(down[:, None] ** 2 + across**2))


def _oval(box: Box, probe: tuple[int, ...], full: tuple[int, ...]) -> Floats:
    """1 inside the oval, falling to 0 at 1.4 times its size, in the picture's own pixels."""
    scale = (full[0] / probe[0], full[1] / probe[1])
    middle = ((box[0] + 0.5) * scale[0] - 0.5, (box[1] + 0.5) * scale[1] - 0.5)
    away = _away((*middle, box[2] * scale[0], box[3] * scale[1]), full)
    return np.clip((1.4 - away) / 0.4, 0.0, 1.0)
