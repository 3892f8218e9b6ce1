"""Chart paper printed, coloured in by hand and photographed: a picture of what a phone would see.

The page is the SVG that is printed, painted by PDFium from the PDF; pens leave streaks and gaps; the camera is
a pinhole at a tilt, with blur, uneven light, noise and JPEG.
"""

import io

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from decor.calc.picture.paper import KEY_MM, PaperLayout

PX_PER_MM = 7.0


def printed(pdf: bytes, page: int = 0) -> Image.Image:
    import pypdfium2

    return pypdfium2.PdfDocument(pdf)[page].render(scale=PX_PER_MM * 25.4 / 72).to_pil().convert("RGB")


def coloured_in(page, layout: PaperLayout, numbers, pens, rng, *, pen_mm=0.9, slips=0.25) -> Image.Image:
    """`numbers` (n,) of the cells, -1 left white; `pens` (p, 3) sRGB 0…255 of the ink on white paper."""
    ink = np.ones((page.height, page.width, 3))
    used = sorted({int(n) for n in numbers if n >= 0})
    for at in used:
        _box(ink, layout.keys[at], KEY_MM, pens[at], rng, pen_mm)
    for centre, number in zip(layout.cells, numbers, strict=True):
        if number >= 0:
            _disc(ink, centre, layout.radius_mm, pens[number], rng, pen_mm, slips)
    soft = Image.fromarray(np.uint8(np.clip(ink, 0, 1) * 255)).filter(ImageFilter.GaussianBlur(0.6))
    # Ink over print: reflectances multiply.
    return Image.fromarray(np.uint8(np.asarray(page, float) * np.asarray(soft, float) / 255))


def _strokes(size_px, shape, rng, pen_px):
    """A hand's zigzag over a shape: strength 0…1 of ink, with streaks, some of the edge missed or passed."""
    canvas = Image.new("L", (size_px, size_px), 0)
    draw = ImageDraw.Draw(canvas)
    angle = rng.uniform(0, np.pi)
    along = np.array([np.cos(angle), np.sin(angle)])
    across = np.array([-along[1], along[0]])
    middle = size_px / 2
    for offset in np.arange(-size_px, size_px, pen_px * rng.uniform(0.75, 0.95)):
        start = middle + across * (offset + rng.normal(0, pen_px * 0.08)) - along * size_px
        end = middle + across * (offset + rng.normal(0, pen_px * 0.08)) + along * size_px
        draw.line([*start, *end], fill=int(255 * rng.uniform(0.75, 1.0)), width=max(1, round(pen_px)))
    return np.asarray(canvas, float) / 255 * shape


def _disc(ink, centre, radius_mm, colour, rng, pen_mm, slips):
    r = radius_mm * PX_PER_MM * rng.normal(0.97, 0.05)
    middle = np.asarray(centre) * PX_PER_MM + rng.normal(0, slips, 2) * PX_PER_MM * 0.5
    side = int(2 * r + 8)
    y, x = np.mgrid[0:side, 0:side] - side / 2
    wobble = 1 + 0.06 * np.sin(np.arctan2(y, x) * rng.integers(2, 5) + rng.uniform(0, 6))
    _put(ink, middle, _strokes(side, np.hypot(x, y) < r * wobble, rng, pen_mm * PX_PER_MM), colour, rng)


def _box(ink, centre, side_mm, colour, rng, pen_mm):
    side = int(side_mm * PX_PER_MM)
    _put(ink, np.asarray(centre) * PX_PER_MM, _strokes(side, 1.0, rng, pen_mm * PX_PER_MM), colour, rng)


def _put(ink, middle, strength, colour, rng):
    side = len(strength)
    x, y = (round(at - side / 2) for at in middle)
    pressed = strength[..., None] * rng.uniform(0.75, 1.15)
    density = -np.log(np.clip(np.asarray(colour, float) / 255, 0.02, 1))
    ink[y : y + side, x : x + side] *= np.exp(-density * pressed)


def photographed(page, rng, *, tilt_deg=30.0, turn_deg=8.0, long_px=2400, blur=1.2, noise=5.0, quality=80, shade=0.5,
                 warm=(1.0, 0.93, 0.8), curl_mm=0.0):  # fmt: skip
    """(h, w, 3) uint8, 4 : 3, the page filling most of it."""
    out = (long_px * 3 // 4, long_px)
    corners = _seen_corners(page.width, page.height, tilt_deg, turn_deg, out)
    page = _curled(page, curl_mm)
    seen = page.transform(out, Image.Transform.PERSPECTIVE, _coefficients(corners, page.size), Image.Resampling.BICUBIC,
                          fillcolor=(96, 78, 60))  # fmt: skip
    seen = seen.filter(ImageFilter.GaussianBlur(blur))
    light = (np.asarray(seen, float) / 255) ** 2.2
    y, x = np.mgrid[0 : out[1], 0 : out[0]] / max(out)
    falls = 1 - shade * (0.6 * x + 0.5 * y) / 1.1
    edge = rng.uniform(0.2, 0.6)
    falls *= 1 - 0.35 * shade / (1 + np.exp(-(x + 0.4 * y - edge) * 60))  # the edge of a shadow
    light = light * falls[..., None] * np.array(warm) * 0.85
    pixels = 255 * np.clip(light, 0, 1) ** (1 / 2.2) + rng.normal(0, noise, light.shape)
    data = io.BytesIO()
    Image.fromarray(np.uint8(np.clip(pixels, 0, 255))).save(data, "JPEG", quality=quality)
    return np.asarray(Image.open(data).convert("RGB"))


def _curled(page, curl_mm):
    """The page as a bent sheet shows it: its middle moved, its corners where they were."""
    if not curl_mm:
        return page
    pixels = np.asarray(page)
    y, x = np.mgrid[0 : page.height, 0 : page.width].astype(np.float32)
    bend = curl_mm * PX_PER_MM * np.sin(np.pi * y / page.height) * np.sin(np.pi * x / page.width)
    rows, columns = np.clip(y + bend, 0, page.height - 1), np.clip(x + 0.6 * bend, 0, page.width - 1)
    return Image.fromarray(pixels[rows.astype(int), columns.astype(int)])


def _seen_corners(width, height, tilt_deg, turn_deg, out):
    tilt, turn = np.radians(tilt_deg), np.radians(turn_deg)
    x = np.array([-1, 1, 1, -1]) * width / height / 2
    y = np.array([-1, -1, 1, 1]) / 2
    x, y = x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)
    far = 2.2
    depth = far + y * np.sin(tilt)
    u, v = x / depth, y * np.cos(tilt) / depth
    span = max((u.max() - u.min()) / out[0], (v.max() - v.min()) / out[1])
    u, v = (u - (u.max() + u.min()) / 2) / span * 0.93, (v - (v.max() + v.min()) / 2) / span * 0.93
    return np.stack([u + out[0] / 2, v + out[1] / 2], axis=1)


def _coefficients(corners, size):
    """Pillow's eight numbers: from a place in the photograph to one on the page."""
    width, height = size
    page = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    rows = []
    for (x, y), (u, v) in zip(corners, page, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
    return np.linalg.solve(np.array(rows), page.ravel())
