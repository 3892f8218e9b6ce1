"""A photograph of chart paper, to the page's cells and to small pictures of those that are not sure."""

import io
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from decor.calc.picture.lattice import Lattice
from decor.calc.picture.paper import PAPERS, PaperLayout, PaperPart, paper_layout, paper_parts
from decor.calc.picture.paper_photo import NoPaper, Seen, find_page
from decor.calc.picture.paper_reading import Reading, read_page
from decor.studio.pictures import picture_array
from jobs.designs.catalogue import Catalogue
from jobs.designs.models import ChartPaper

Pixels = npt.NDArray[np.uint8]

CROP_PX = 72
"""Side of an unsure cell's picture."""
_CROP_PITCHES = 2.6
_DETAIL_CELLS = 12_000
"""A photograph is opened as finely as a picture for so many cells: about three megapixels."""
_TOO_UNSURE = 0.4


@dataclass(frozen=True)
class PageRead:
    """What a photograph says of one page; `crops` is a JPEG of the unsure cells' pictures, one beside another."""

    part: PaperPart
    reading: Reading
    unsure: tuple[int, ...]
    crops: bytes


def lattice_of(paper: ChartPaper, catalogue: Catalogue) -> Lattice:
    """Raises NoPaper where its sheet type is gone."""
    sheet = catalogue.sheet(paper.sheet_id)
    if sheet is None:
        raise NoPaper("This chart paper's sheet type is no longer in stock.")
    return sheet.lattice_of(paper.rows, paper.columns)


def parts_of(paper: ChartPaper, lattice: Lattice) -> tuple[PaperPart, ...]:
    return paper_parts(lattice, colours=len(paper.palette), paper=paper.paper)


def photo_read(data: bytes, paper: ChartPaper, catalogue: Catalogue) -> PageRead:
    """Raises NoPaper with the reason in words, PictureRefused where the file is no picture."""
    lattice = lattice_of(paper, catalogue)
    layouts = [
        paper_layout(lattice, part, colours=len(paper.palette), paper=paper.paper) for part in parts_of(paper, lattice)
    ]
    photo = picture_array(data, _DETAIL_CELLS)
    seen = find_page(photo, layouts[0])
    if seen.paper != paper.pk % PAPERS or seen.page > len(layouts):
        raise NoPaper(
            "This is a page of another chart paper. Open the paper that it was printed from, and send it there."
        )
    layout = layouts[seen.page - 1]
    try:
        reading = read_page(photo, seen, layout)
    except ValueError as outside:
        raise NoPaper(
            "A part of the chart is outside the picture. Take it again with the whole page in it."
        ) from outside
    if len(reading.blank_keys) == len(paper.palette):
        raise NoPaper(
            "No box at the bottom of the page is coloured. Colour one with each pen, then take the picture again."
        )
    if reading.unsure.mean() > _TOO_UNSURE:
        raise NoPaper(
            "Too much of this page cannot be made out. Take the picture again in better light, closer and sharp."
        )
    unsure = np.flatnonzero(reading.unsure)
    return PageRead(layout.part, reading, tuple(unsure.tolist()), _crops(photo, seen, layout, unsure))


def _crops(photo: Pixels, seen: Seen, layout: PaperLayout, cells: npt.NDArray[np.intp]) -> bytes:
    """Each cell with its neighbours, as it lies on the page."""
    step = np.linspace(-0.5, 0.5, CROP_PX) * _CROP_PITCHES * layout.pitch_mm
    spread = np.stack(np.meshgrid(step, step), axis=-1)
    strip = np.zeros((CROP_PX, max(1, len(cells)) * CROP_PX, 3), dtype=np.uint8)
    for at, cell in enumerate(cells):
        places = np.rint(seen.at(layout.cells[cell] + spread)).astype(np.int64)
        x = np.clip(places[..., 0], 0, photo.shape[1] - 1)
        y = np.clip(places[..., 1], 0, photo.shape[0] - 1)
        strip[:, at * CROP_PX : (at + 1) * CROP_PX] = photo[y, x]
    out = io.BytesIO()
    # JPEG's own limit is 65,535 pixels a side.
    Image.fromarray(strip[:, : 900 * CROP_PX]).save(out, "JPEG", quality=85)
    return out.getvalue()
