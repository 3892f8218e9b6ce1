"""Colour as the eye tells it apart: sRGB, linear light, CIE Lab and CIEDE2000.

References:
    IEC 61966-2-1:1999 (sRGB: matrix and transfer curve).
    CIE 15:2004 (Lab).
    G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 Color-Difference Formula", Color Research &
    Application 30(1), 21-30, 2005 (formula and the test pairs in tests/references).
"""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]

_RGB_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
# D65 as the matrix itself gives it (0.9505, 1, 1.0890), so that greys come out exactly neutral.
_WHITE_XYZ = _RGB_TO_XYZ.sum(axis=1)
_LAB_EPSILON = 216.0 / 24389.0
_LAB_KAPPA = 24389.0 / 27.0
_CHROMA_25_7 = 25.0**7
_TINY = 1e-12
_HUE_TERMS = tuple(
    np.complex64(part * np.exp(1j * np.deg2rad(turn)))
    for part, turn in ((-0.20, -63.0), (0.32, 6.0), (0.24, 0.0), (-0.17, -30.0))
)
_ARC_SQUARED = tuple(
    np.float32(part) for part in (2.0, 0.33333075, 0.08893966, 0.028139712, 0.011943796, 0.00021129678, 0.0047632665)
)
_BLOCK_ROWS = 256
"""Rows of the table worked on at once: the arrays of one block stay in the processor's cache."""
_BLOCK_PAIRS = 16_384
"""The same for pairs."""


def srgb_to_linear(rgb: npt.ArrayLike) -> Floats:
    """sRGB 0…1 to linear light 0…1, any shape."""
    code = np.asarray(rgb, dtype=np.float64)
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def linear_to_srgb(light: npt.ArrayLike) -> Floats:
    """Linear light 0…1 to sRGB 0…1, any shape."""
    linear = np.asarray(light, dtype=np.float64)
    return np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1.0 / 2.4) - 0.055)


def checked_srgb(name: str, rgb: npt.ArrayLike) -> Floats:
    """The colours as floats, or ValueError naming ``name`` unless they are (…, 3) of 0…1."""
    colours = np.asarray(rgb, dtype=np.float64)
    if colours.ndim == 0 or colours.shape[-1] != 3:
        raise ValueError(f"{name}: needs three numbers a colour, its shape is {colours.shape}")
    if colours.size and not bool(np.all((colours >= 0.0) & (colours <= 1.0))):
        raise ValueError(f"{name}: red, green and blue must be between 0 and 1")
    return colours


def srgb_to_lab(rgb: npt.ArrayLike) -> Floats:
    """sRGB to CIE Lab under D65, 2° observer.

    Args:
        rgb: (…, 3) red, green, blue, each 0…1.

    Returns:
        (…, 3) L, a, b.

    Raises:
        ValueError: ``rgb`` has another shape, or a value outside 0…1.

    >>> srgb_to_lab([1.0, 0.0, 0.0]).round(1).tolist()
    [53.2, 80.1, 67.2]
    """
    xyz = srgb_to_linear(checked_srgb("rgb", rgb)) @ _RGB_TO_XYZ.T / _WHITE_XYZ
    f = np.where(xyz > _LAB_EPSILON, np.cbrt(xyz), (_LAB_KAPPA * xyz + 16.0) / 116.0)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def delta_e_2000(lab_a: npt.ArrayLike, lab_b: npt.ArrayLike) -> Floats:
    """CIEDE2000 colour difference with all weights 1 (Sharma, Wu & Dalal 2005, eqs. 2-22).

    Args:
        lab_a, lab_b: (…, 3) L, a, b; they broadcast over all but the last axis.

    Returns:
        (…) differences; about 1 is just visible.

    Raises:
        ValueError: an argument is not (…, 3), or they do not broadcast.

    >>> float(delta_e_2000([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485]).round(4))
    2.0425
    """
    first, second = _checked_lab("lab_a", lab_a), _checked_lab("lab_b", lab_b)
    lightness_a, a1, b1 = first[..., 0], first[..., 1], first[..., 2]
    lightness_b, a2, b2 = second[..., 0], second[..., 1], second[..., 2]
    mean_chroma_7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0) ** 7
    stretch = 1.0 + 0.5 * (1.0 - np.sqrt(mean_chroma_7 / (mean_chroma_7 + _CHROMA_25_7)))
    a1, a2 = a1 * stretch, a2 * stretch
    chroma_a, chroma_b = np.hypot(a1, b1), np.hypot(a2, b2)
    hue_a, hue_b = np.arctan2(b1, a1) % (2 * np.pi), np.arctan2(b2, a2) % (2 * np.pi)
    hue_step, hue_mean = _hue_step_and_mean(hue_a, hue_b, grey=chroma_a * chroma_b == 0.0)
    d_hue = 2.0 * np.sqrt(chroma_a * chroma_b) * np.sin(hue_step / 2.0)
    weight_l, weight_c, weight_h, turn = _weights(
        (lightness_a + lightness_b) / 2.0, (chroma_a + chroma_b) / 2.0, hue_mean
    )
    dl, dc, dh = (lightness_b - lightness_a) / weight_l, (chroma_b - chroma_a) / weight_c, d_hue / weight_h
    return np.asarray(np.sqrt(np.maximum(dl * dl + dc * dc + dh * dh + turn * dc * dh, 0.0)))


def _hue_step_and_mean(hue_a: Floats, hue_b: Floats, *, grey: npt.NDArray[np.bool_]) -> tuple[Floats, Floats]:
    step = hue_b - hue_a
    # Exactly opposite hues come out a rounding away from 180°, on either side; the formula takes
    # them as not above it, and two of Sharma's pairs test just that.
    far = np.abs(step) > np.pi + 1e-12
    total = hue_a + hue_b
    mean = np.where(far, np.where(total < 2 * np.pi, total / 2.0 + np.pi, total / 2.0 - np.pi), total / 2.0)
    step = np.where(far, step - np.copysign(2 * np.pi, step), step)
    return np.where(grey, 0.0, step), np.where(grey, total, mean)


def _weights(lightness: Floats, chroma: Floats, hue: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """S_L, S_C, S_H and R_T at the pair's mean lightness, chroma and hue [rad]."""
    t = (
        1.0
        - 0.17 * np.cos(hue - np.deg2rad(30.0))
        + 0.24 * np.cos(2.0 * hue)
        + 0.32 * np.cos(3.0 * hue + np.deg2rad(6.0))
        - 0.20 * np.cos(4.0 * hue - np.deg2rad(63.0))
    )
    from_50 = (lightness - 50.0) ** 2
    chroma_7 = chroma**7
    theta = np.deg2rad(30.0) * np.exp(-(((np.rad2deg(hue) - 275.0) / 25.0) ** 2))
    turn = -2.0 * np.sqrt(chroma_7 / (chroma_7 + _CHROMA_25_7)) * np.sin(2.0 * theta)
    weight_l = 1.0 + 0.015 * from_50 / np.sqrt(20.0 + from_50)
    return weight_l, 1.0 + 0.045 * chroma, 1.0 + 0.015 * chroma * t, turn


def delta_e_2000_table(lab_a: npt.ArrayLike, lab_b: npt.ArrayLike) -> Singles:
    """Every colour of one list against every colour of another, fast.

    The same formula in single precision and almost without trigonometry: with unit hue vectors,
    half their difference is the sine and half their sum the cosine of half the hue step, and the
    sum points along the mean hue. Agrees with `delta_e_2000` to 0.0005.

    Args:
        lab_a: (n, 3) L, a, b.
        lab_b: (p, 3) L, a, b.

    Returns:
        (n, p) differences.

    Raises:
        ValueError: an argument is not a list of colours.
    """
    rows, columns = _checked_lists(lab_a, lab_b)
    table = np.empty((len(rows), len(columns)), dtype=np.float32)
    down, across = _single_parts(rows)[:, :, None], _single_parts(columns)[:, None, :]
    lost = [np.empty((2, 0), dtype=np.int64)]
    for start in range(0, len(rows), _BLOCK_ROWS):
        block = slice(start, start + _BLOCK_ROWS)
        table[block], opposed = _differences(down[:, block], across)
        if opposed.any():
            row, column = np.nonzero(opposed)
            lost.append(np.stack([start + row, column]))
    row, column = np.concatenate(lost, axis=1)
    if row.size:
        table[row, column] = delta_e_2000(rows[row], columns[column])
    return table


def delta_e_2000_pairs(lab_a: npt.ArrayLike, lab_b: npt.ArrayLike, row: Numbers, column: Numbers) -> Singles:
    """The entries of `delta_e_2000_table` at these places alone, to the last bit.

    Args:
        lab_a: (n, 3) L, a, b.
        lab_b: (p, 3) L, a, b.
        row, column: (m,) numbers into them.

    Returns:
        (m,) differences.

    Raises:
        ValueError: an argument is not a list of colours.
    """
    rows, columns = _checked_lists(lab_a, lab_b)
    down, across = _single_parts(rows), _single_parts(columns)
    found, lost = np.empty(len(row), dtype=np.float32), np.empty(len(row), dtype=np.bool_)
    for start in range(0, len(row), _BLOCK_PAIRS):
        block = slice(start, start + _BLOCK_PAIRS)
        one, other = np.take(down, row[block], axis=1), np.take(across, column[block], axis=1)
        found[block], lost[block] = _differences(one, other)
    if lost.any():
        found[lost] = delta_e_2000(rows[row[lost]], columns[column[lost]])
    return found


def _checked_lists(lab_a: npt.ArrayLike, lab_b: npt.ArrayLike) -> tuple[Floats, Floats]:
    rows, columns = _checked_lab("lab_a", lab_a), _checked_lab("lab_b", lab_b)
    for name, colours in (("lab_a", rows), ("lab_b", columns)):
        if colours.ndim != 2:
            raise ValueError(f"{name}: must be a list of colours, its shape is {colours.shape}")
    return rows, columns


def _single_parts(lab: Floats) -> Singles:
    """(4, n) L, a, b and chroma."""
    lightness, a, b = lab.T.astype(np.float32)
    return np.stack([lightness, a, b, np.hypot(a, b)])


def _differences(down: Singles, across: Singles) -> tuple[Singles, Marks]:
    """Differences of colours given by their parts, and where the hues are so opposed that their mean is lost."""
    lightness_1, a1, b1, chroma_1 = down
    lightness_2, a2, b2, chroma_2 = across
    stretch = 1.5 - 0.5 * _chroma_share((chroma_1 + chroma_2) * 0.5)
    a1, a2 = a1 * stretch, a2 * stretch
    chroma_1, chroma_2 = np.sqrt(a1 * a1 + b1 * b1), np.sqrt(a2 * a2 + b2 * b2)
    # A grey has no hue: its unit vector stays 0, and the mean hue is the other colour's.
    scale_1, scale_2 = 1.0 / np.maximum(chroma_1, _TINY), 1.0 / np.maximum(chroma_2, _TINY)
    x1, y1, x2, y2 = a1 * scale_1, b1 * scale_1, a2 * scale_2, b2 * scale_2
    x, y = x1 + x2, y1 + y2
    length = np.sqrt(x * x + y * y)
    product = chroma_1 * chroma_2
    opposed: Marks = (length < 0.04) & (product > _TINY)
    scale = 1.0 / np.maximum(length, _TINY)
    x *= scale
    y *= scale
    mean_chroma = (chroma_1 + chroma_2) * 0.5
    dh = 2.0 * np.sqrt(product) * (x1 * y2 - y1 * x2) * scale
    dh /= 1.0 + 0.015 * mean_chroma * _hue_weight(x, y)
    dc = (chroma_2 - chroma_1) / (1.0 + 0.045 * mean_chroma)
    from_50 = ((lightness_1 + lightness_2) * 0.5 - 50.0) ** 2
    dl = (lightness_2 - lightness_1) / (1.0 + 0.015 * from_50 / np.sqrt(20.0 + from_50))
    turn = -2.0 * _chroma_share(mean_chroma) * _blue_turn(x, y)
    total = dl * dl + dc * dc + dh * dh + turn * dc * dh
    return np.sqrt(np.maximum(total, 0.0)), opposed


def _chroma_share(chroma: Singles) -> Singles:
    square = chroma * chroma
    seventh = square * square * square * chroma
    return np.asarray(np.sqrt(seventh / (seventh + np.float32(_CHROMA_25_7))), dtype=np.float32)


def _hue_weight(x: Singles, y: Singles) -> Singles:
    """T of the formula from the cosine and sine of the mean hue: the real part of a polynomial of x + iy, by Horner's
    rule and in place, as new arrays cost more than the sums."""
    fourth, third, second, first = _HUE_TERMS
    real, imaginary = fourth.real * x, fourth.real * y
    real -= fourth.imag * y
    imaginary += fourth.imag * x
    for term in (third, second, first):
        real += term.real
        imaginary += term.imag
        turned = real * y
        real *= x
        real -= imaginary * y
        imaginary *= x
        imaginary += turned
    real += np.float32(1.0)
    return real


def _blue_turn(x: Singles, y: Singles) -> Singles:
    """Sine of twice the formula's theta, which is felt only round the hue of 275°.

    The square of the angle from there is all that counts, and that is a smooth function of its cosine: 2, 1/3, 4/45, …
    times the powers of 1 - cosine, here fitted by least squares to 1e-9 of the exponential.
    """
    off = 1.0 - _towards(x, y, 275.0)
    square = np.full_like(off, _ARC_SQUARED[-1])
    for part in _ARC_SQUARED[-2::-1]:
        square *= off
        square += part
    square *= off
    square *= np.float32(-((np.rad2deg(1.0) / 25.0) ** 2))
    return np.asarray(np.sin(np.float32(np.deg2rad(60.0)) * np.exp(square, out=square)), dtype=np.float32)


def _towards(x: Singles, y: Singles, degrees: float) -> Singles:
    """Cosine of the angle between the unit vector (x, y) and a direction."""
    angle = np.deg2rad(degrees)
    return np.float32(np.cos(angle)) * x + np.float32(np.sin(angle)) * y


def _checked_lab(name: str, lab: npt.ArrayLike) -> Floats:
    colours = np.asarray(lab, dtype=np.float64)
    if colours.ndim == 0 or colours.shape[-1] != 3:
        raise ValueError(f"{name}: needs L, a and b for each colour, its shape is {colours.shape}")
    return colours
