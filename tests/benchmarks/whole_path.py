"""From a photograph to everything that a panel needs, in a process of its own, so that its memory can be told.

`python -m tests.benchmarks.whole_path ROWS COLUMNS COLOURS` prints JSON: the milliseconds of each step as the middle of
three warm runs, and the most memory that the process ever had.
"""

import io
import json
import re
import sys
import time
from collections.abc import Callable
from pathlib import Path

import django
import numpy as np
from PIL import Image
from skimage import data

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.loading import plan_pairs, plan_strings
from decor.calc.picture.matching import match
from decor.calc.picture.sampling import sample
from decor.calc.picture.sheets import plan_grid
from decor.studio.pictures import picture_array
from jobs.designs.drawing import balloons_svg, hex_of_rgb
from jobs.designs.raster import balloons_jpeg

MOST_DRAWN = 12_000
SHEET = 24


def photograph() -> bytes:
    out = io.BytesIO()
    Image.fromarray(data.astronaut()).resize((4000, 3000), Image.Resampling.BICUBIC).save(out, "JPEG", quality=92)
    return out.getvalue()


def drawing_of(lattice: Lattice) -> Callable[..., str]:
    from jobs.designs.charting import flat_svg  # beside the models, which Django must have loaded

    return balloons_svg if lattice.cells <= MOST_DRAWN else flat_svg


def once(photo: bytes, lattice: Lattice, palette: np.ndarray, stock: np.ndarray) -> dict[str, float]:
    spent: dict[str, float] = {}

    def step(name: str, work: Callable[[], object]) -> object:
        start = time.perf_counter()
        made = work()
        spent[name] = (time.perf_counter() - start) * 1000.0
        return made

    pixels = step("decode", lambda: picture_array(photo, lattice.cells))
    cells = step("sample", lambda: sample(pixels, lattice))
    numbers = step("match within stock", lambda: match(cells, palette, stock=stock))
    chart = Chart(np.asarray(numbers).reshape(lattice.rows, lattice.columns), lattice)
    row, column = np.divmod(np.arange(lattice.cells), lattice.columns)
    blocks = row // SHEET * (lattice.columns // SHEET + 1) + column // SHEET
    step("pairs, per sheet", lambda: plan_pairs(chart, blocks=blocks))
    step("strings", lambda: plan_strings(chart))
    hexes = [hex_of_rgb(np.rint(colour * 255)) for colour in palette]
    step("SVG", lambda: drawing_of(lattice)(chart, hexes, title="Portrait"))
    rgb = [tuple(int(part) for part in np.rint(colour * 255)) for colour in palette]
    joins = plan_grid(lattice.rows, lattice.columns, SHEET, SHEET).joins
    step("proof JPEG", lambda: balloons_jpeg(chart, rgb, 2000, joins=joins))
    return spent


def main(rows: int, columns: int, colours: int) -> None:
    django.setup()
    lattice = Lattice("square", rows, columns, 0.127)
    palette = np.random.default_rng(5).random((colours, 3))
    photo = photograph()
    liked = np.bincount(match(sample(picture_array(photo, lattice.cells), lattice), palette), minlength=colours)
    stock = np.ceil(0.6 * liked + 0.6 * lattice.cells / colours).astype(int)
    once(photo, lattice, palette, stock)
    runs = [once(photo, lattice, palette, stock) for _ in range(3)]
    steps = {name: sorted(run[name] for run in runs)[1] for name in runs[0]}
    print(json.dumps({"steps": steps, "total_ms": sum(steps.values()), "most_mb": most_mb()}))


def most_mb() -> float:
    """The most memory this program held at once. Not getrusage's figure: that keeps what the process was before it
    became this program, a copy of whoever started it."""
    status = Path("/proc/self/status").read_text()
    return int(re.search(r"VmHWM:\s*(\d+) kB", status)[1]) * 1024 / 1e6


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:4]))
