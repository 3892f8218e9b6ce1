"""The invented clients' pictures, drawn here: nobody's photograph and nobody's logo."""

import io

from PIL import Image, ImageDraw

SKY, WHITE, RED, NAVY, GREEN, YELLOW, BLACK = (
    "#7db3d8",
    "#f4f1ea",
    "#c62f28",
    "#1f3864",
    "#4a8c4a",
    "#f2c42e",
    "#25272a",
)


def _png(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def lighthouse() -> bytes:
    image = Image.new("RGB", (1300, 1040), SKY)
    draw = ImageDraw.Draw(image)
    for x, y, w in [(200, 130, 190), (270, 80, 110), (930, 300, 110), (1000, 345, 100)]:
        draw.rounded_rectangle((x, y, x + w, y + 50), 24, WHITE)
    draw.polygon(
        [(0, 830), (170, 800), (330, 870), (900, 870), (1080, 800), (1300, 830), (1300, 1040), (0, 1040)], NAVY
    )
    draw.ellipse((230, 740, 1130, 1100), GREEN)
    draw.polygon([(1300, 60), (1300, 260), (720, 190), (720, 165)], YELLOW)
    bands = [RED, WHITE, RED, WHITE, RED]
    for number, colour in enumerate(bands):
        top, bottom = 280 + number * 100, 380 + number * 100
        lean = [35 + (y - 280) * 0.06 for y in (top, bottom)]
        x = 665
        draw.polygon(
            [(x - 60 - lean[0], top), (x + 60 + lean[0], top), (x + 60 + lean[1], bottom), (x - 60 - lean[1], bottom)],
            colour,
        )
    draw.rectangle((560, 235, 770, 285), BLACK)
    draw.rectangle((610, 150, 720, 235), YELLOW)
    draw.polygon([(590, 150), (740, 150), (665, 90)], BLACK)
    return _png(image)


def kite() -> bytes:
    image = Image.new("RGB", (960, 960), WHITE)
    draw = ImageDraw.Draw(image)
    draw.polygon([(480, 60), (780, 400), (480, 400)], RED)
    draw.polygon([(480, 60), (180, 400), (480, 400)], YELLOW)
    draw.polygon([(480, 760), (780, 400), (480, 400)], NAVY)
    draw.polygon([(480, 760), (180, 400), (480, 400)], GREEN)
    draw.line([(480, 760), (430, 840), (520, 880), (470, 950)], BLACK, 22)
    return _png(image)
