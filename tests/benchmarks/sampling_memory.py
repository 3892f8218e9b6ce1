"""Run by itself, in a process of its own: how far sampling the JPEG that comes in for 6,992 cells lifts the process
above what it held before, in MB. What is loaded on first use is loaded before; the picture is not made here, as what
that leaves free would be used again unseen."""

import io
import sys

import django
from PIL import Image
from skimage import data

from decor.calc.picture.lattice import Lattice
from decor.calc.picture.sampling import sample
from decor.studio.pictures import picture_array
from tests.benchmarks.whole_path import most_mb

CLEAR = "/proc/self/clear_refs"
MOST_SO_FAR_ANEW = "5"
"""proc(5): writing 5 there sets the most memory held so far to what is held now."""


def small() -> bytes:
    out = io.BytesIO()
    Image.fromarray(data.astronaut()).save(out, "JPEG")
    return out.getvalue()


def main() -> None:
    django.setup()
    photo, lattice = sys.stdin.buffer.read(), Lattice("offset", 92, 76, 0.127)
    sample(picture_array(small(), 100), Lattice("square", 10, 10, 0.127))
    with open(CLEAR, "w") as most:
        most.write(MOST_SO_FAR_ANEW)
    before = most_mb()
    sample(picture_array(photo, lattice.cells), lattice)
    print(most_mb() - before)


if __name__ == "__main__":
    main()
