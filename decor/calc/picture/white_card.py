"""The colour of a balloon from its photograph beside a white card.

Whatever the light and whatever the camera's own white balance, the card shows what white became in this picture; each
channel is divided by it in linear light (a diagonal, von Kries adaptation; J. von Kries 1902, as in Fairchild, "Color
Appearance Models", chapter 9). What comes out is the balloon's colour beside a white that is white on screen, so under
D65. The highlight of the lamp and the side that lies in the shade are left out.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from decor.calc.picture.colour import Floats, delta_e_2000, linear_to_srgb, srgb_to_lab, srgb_to_linear

Image = npt.NDArray[np.uint8]
Box = tuple[int, int, int, int]

CLIPPED = 250
"""A code at or above it may have been brighter than the camera could tell."""
DARKEST_CARD = 0.02
"""A card with less linear light than this is no white card, or is not lit."""
LEAST_PIXELS = 64
SHADE, HIGHLIGHT = 0.4, 0.8
"""Quantiles of brightness between which the lit side of a ball lies: below is shade, above the lamp's gloss. Chosen on
our own drawn balls (tests/calc/picture/test_white_card.py), no other source."""
_WASHED_OUT = 0.75
"""A pixel with less than this share of the usual purity is gloss: the lamp's own colour over the balloon's."""
_NEARLY_GREY = 0.15
"""Below this purity noise decides what is purer than what, so gloss is left to the brightness."""
_GRID = 24


@dataclass(frozen=True)
class Seen:
    """`rgb` (3,): sRGB 0…1 of the balloon beside white under D65. How sure that is: `spread` is the middle CIEDE2000
    distance of its pixels from it, `clipped` the share of the balloon's pixels that were too bright to tell,
    `card_clipped` the same of the card, `card_uneven` the CIEDE2000 difference between the card's halves that differ
    most, `cast` the card's strongest channel over its weakest in linear light: 1 in daylight as the camera saw it,
    2 and more under lamps, beside which strong reds and oranges can't be told well."""

    rgb: Floats
    spread: float
    clipped: float
    card_clipped: float
    card_uneven: float
    cast: float

    @property
    def sure(self) -> bool:
        """Good enough to be taken without a second look (our own bounds)."""
        steady = self.spread <= 6.0 and self.clipped <= 0.15
        return steady and self.card_clipped <= 0.1 and self.card_uneven <= 4.0 and self.cast <= 2.0


def seen(image: Image, card: Box, balloon: Box) -> Seen:
    """The balloon's colour.

    Args:
        image: (h, w, 3) sRGB codes, uint8.
        card, balloon: left, top, right, bottom [pixels], half-open, at least 64 pixels each.

    Raises:
        ValueError: naming ``image``, ``card`` or ``balloon``: of the wrong shape, outside the picture, too small; or
            ``card`` when it is too dark, or wholly too bright, to say what white is.

    >>> picture = np.full((20, 40, 3), 200, dtype=np.uint8)
    >>> picture[:, 20:] = (150, 100, 50)
    >>> (seen(picture, (0, 0, 20, 20), (20, 0, 40, 20)).rgb * 255).round().astype(int).tolist()
    [192, 129, 66]
    """
    white, card_clipped, uneven = _white(_pixels("card", image, card), _patch("card", image, card))
    codes = _pixels("balloon", image, balloon)
    clipped = np.any(codes >= CLIPPED, axis=1)
    light = srgb_to_linear(codes / 255.0) / white
    lit = _lit_side(light[~clipped] if np.count_nonzero(~clipped) >= LEAST_PIXELS else light)
    rgb = np.clip(linear_to_srgb(np.clip(np.mean(lit, axis=0), 0.0, 1.0)), 0.0, 1.0)
    apart = delta_e_2000(srgb_to_lab(np.clip(linear_to_srgb(np.clip(lit, 0.0, 1.0)), 0.0, 1.0)), srgb_to_lab(rgb))
    cast = float(white.max() / white.min())
    return Seen(rgb, float(np.median(apart)), float(clipped.mean()), card_clipped, uneven, cast)


def _patch(name: str, image: Image, box: Box) -> Image:
    if image.ndim != 3 or image.shape[2] != 3 or image.dtype != np.uint8:
        raise ValueError("image: must be (h, w, 3) of uint8")
    left, top, right, bottom = box
    if not (0 <= left < right <= image.shape[1] and 0 <= top < bottom <= image.shape[0]):
        raise ValueError(f"{name}: must lie within the picture")
    if (right - left) * (bottom - top) < LEAST_PIXELS:
        raise ValueError(f"{name}: is too small to tell a colour, {LEAST_PIXELS} pixels at least")
    return image[top:bottom, left:right]


def _pixels(name: str, image: Image, box: Box) -> Image:
    return _patch(name, image, box).reshape(-1, 3)


def _white(codes: Image, patch: Image) -> tuple[Floats, float, float]:
    """Linear light of the card in each channel, its clipped share, and how uneven it is."""
    clipped = np.any(codes >= CLIPPED, axis=1)
    share = float(clipped.mean())
    if share > 0.9:
        raise ValueError("card: is too bright, so its white can't be told; take the photo with less light")
    white: Floats = np.asarray(np.median(srgb_to_linear(codes[~clipped] / 255.0), axis=0))
    if float(white.min()) < DARKEST_CARD:
        raise ValueError("card: is too dark or too coloured for a white card")
    return white, share, _unevenness(patch, white)


def _unevenness(patch: Image, white: Floats) -> float:
    """CIEDE2000 between opposite halves, the worse of left-right and top-bottom."""
    light = srgb_to_linear(patch / 255.0) / white
    middle_y, middle_x = patch.shape[0] // 2, patch.shape[1] // 2
    halves = [(light[:middle_y], light[middle_y:]), (light[:, :middle_x], light[:, middle_x:])]
    found = [0.0]
    for first, second in halves:
        if first.size and second.size:
            pair = [np.clip(np.median(half.reshape(-1, 3), axis=0), 0.0, 1.0) for half in (first, second)]
            lab = srgb_to_lab(np.clip(linear_to_srgb(np.array(pair)), 0.0, 1.0))
            found.append(float(delta_e_2000(lab[0], lab[1])))
    return max(found)


def _lit_side(light: Floats) -> Floats:
    """Without gloss and without shade."""
    high, low = light.max(axis=1), light.min(axis=1)
    purity = (high - low) / np.maximum(high, 1e-9)
    usual = float(np.median(purity))
    plain = light[purity >= _WASHED_OUT * usual] if usual > _NEARLY_GREY else light
    brightness = plain @ np.array([0.2126, 0.7152, 0.0722])
    least, most = np.quantile(brightness, [SHADE, HIGHLIGHT])
    return np.asarray(plain[(brightness >= least) & (brightness <= most)])


def proposed(image: Image) -> tuple[Box, Box]:
    """Where the card and the balloon seem to be, as boxes for `seen`: the card is the brightest even patch once each
    channel is stretched alike, the balloon the even patch that differs most from the picture's rim and the card.

    Args:
        image: (h, w, 3) sRGB codes, uint8, at least 48 pixels each way.

    Raises:
        ValueError: naming ``image``.
    """
    if image.ndim != 3 or image.shape[2] != 3 or image.dtype != np.uint8 or min(image.shape[:2]) < 2 * _GRID:
        raise ValueError(f"image: must be (h, w, 3) of uint8, {2 * _GRID} pixels each way at least")
    mean, even = _blocks(image)
    stretched = mean / np.maximum(np.quantile(mean.reshape(-1, 3), 0.99, axis=0), 1e-6)
    # A card is flat: round it the light hardly changes, while a white ball has a lit side and a shade.
    card = _best(_around(stretched.min(axis=2) - 3.0 * even) - 6.0 * _bent(stretched.min(axis=2)))
    white = np.maximum(mean[card], 1e-3)
    lab = srgb_to_lab(np.clip(linear_to_srgb(np.clip(mean / white, 0.0, 1.0)), 0.0, 1.0))
    rim = np.concatenate([lab[0], lab[-1], lab[:, 0], lab[:, -1]])
    apart = delta_e_2000(lab, np.median(rim, axis=0)) + np.hypot(lab[..., 1], lab[..., 2]) / 2.0
    apart = np.minimum(apart, 2.0 * delta_e_2000(lab, lab[card]))
    apart[max(0, card[0] - 2) : card[0] + 3, max(0, card[1] - 2) : card[1] + 3] = -100.0
    balloon = _best(_around(apart - 60.0 * even))
    return _box(card, card, image, 1.5), _box(*_middle_of(balloon, card, lab), image, 2.5)


def _bent(brightness: Floats) -> Floats:
    """How much each block differs from its neighbours."""
    around = _windows(brightness)
    return np.asarray(around.std(axis=0))


def _windows(values: Floats) -> Floats:
    """(9, rows, columns): each block's neighbourhood."""
    padded = np.pad(values, 1, mode="edge")
    return np.stack([padded[y : y + _GRID, x : x + _GRID] for y in range(3) for x in range(3)])


def _middle_of(block: tuple[int, int], card: tuple[int, int], lab: Floats) -> tuple[tuple[int, int], tuple[int, int]]:
    """The patch of one colour round a block, in light and shade: the middle part of where it reaches. Strict enough
    not to flow over into the card or the picture's rim."""
    away = lab - lab[block]
    off = np.hypot(away[..., 1], away[..., 2])
    for tolerance in (15.0, 8.0, 4.0):
        patch = _grown(block, (off < tolerance) & (np.abs(away[..., 0]) < 2.0 * tolerance))
        rim = patch[0].any() or patch[-1].any() or patch[:, 0].any() or patch[:, -1].any()
        if not rim and not patch[card]:
            break
    else:
        return block, block
    rows, columns = np.nonzero(patch)
    spans = [(int(found.min()), int(found.max())) for found in (rows, columns)]
    thirds = [((2 * low + high) // 3, (low + 2 * high) // 3) for low, high in spans]
    return (thirds[0][0], thirds[1][0]), (thirds[0][1], thirds[1][1])


def _grown(block: tuple[int, int], alike: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """The blocks that hang together with one through blocks like it."""
    patch = np.zeros_like(alike)
    patch[block] = True
    for _ in range(2 * _GRID):
        grown = alike & _windows(patch.astype(np.float64)).any(axis=0)
        if bool((grown == patch).all()):
            break
        patch = grown
    return patch


def _blocks(image: Image) -> tuple[Floats, Floats]:
    """Mean linear light of each block of a 24 × 24 grid, and how much it varies within."""
    height, width = (side // _GRID for side in image.shape[:2])
    cut = image[: height * _GRID, : width * _GRID]
    thin = max(1, min(height, width) // 8)
    light = srgb_to_linear(cut.reshape(_GRID, height, _GRID, width, 3)[:, ::thin, :, ::thin] / 255.0)
    return light.mean(axis=(1, 3)), light.std(axis=(1, 3)).mean(axis=2)


def _around(score: Floats) -> Floats:
    """Each block's score with its neighbours', so that a patch counts and no speck; the rim is left out."""
    found: Floats = np.asarray(_windows(score).mean(axis=0))
    found[[0, -1]] = found[:, [0, -1]] = -1e6
    return found


def _best(score: Floats) -> tuple[int, int]:
    row, column = np.unravel_index(int(np.argmax(score)), score.shape)
    return int(row), int(column)


def _box(first: tuple[int, int], last: tuple[int, int], image: Image, blocks: float) -> Box:
    """From the first block to the last, at least that many blocks a side."""
    height, width = image.shape[:2]
    y, x = ((first[at] + last[at] + 1) / 2 for at in (0, 1))
    down, across = (max(blocks, last[at] - first[at] + 1) / 2 for at in (0, 1))
    left, top = max(0, round((x - across) * width / _GRID)), max(0, round((y - down) * height / _GRID))
    return left, top, min(width, round((x + across) * width / _GRID)), min(height, round((y + down) * height / _GRID))
