"""Panels kept for another event: free of any event and of stock, found again by their words or their picture."""

import io
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from PIL import Image

from decor.calc.picture import fingerprint
from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from decor.calc.picture.lattice import Lattice
from decor.calc.pieces.panel import LOADINGS
from decor.studio.services import file_store
from decor.studio.versions import save_unchanged
from jobs.designs.catalogue import Catalogue, LatexItem, SheetType
from jobs.designs.charting import CELLS_AS, NO_COLOUR, cells_bytes, chart_of, palette_of
from jobs.designs.drawing import rgb_of_hex
from jobs.designs.models import KeptPanel, Panel, PanelDraft, Piece
from jobs.designs.out.plain_json import FileColour, PanelFile, file_colours
from jobs.designs.pictures.drafts import draft_change, draft_of
from jobs.designs.pictures.recipe import FramePart, Outline, Recipe

_CELL_PX = 10


class NotUsable(ValueError):
    """Why a kept panel cannot be used for a piece, in words."""


def panel_keep(*, panel: Panel, sheet: SheetType, catalogue: Catalogue, title: str, note: str = "") -> KeptPanel:
    """The panel as it stands now; later changes of the piece do not touch what is kept."""
    palette = file_colours(palette_of(panel, catalogue), NO_COLOUR)
    return file_keep(file=PanelFile(title, chart_of(panel, sheet), palette, panel.loading), note=note)


def file_keep(*, file: PanelFile, note: str = "") -> KeptPanel:
    """A panel that was read from a file of our own, or taken from a piece."""
    lattice = file.chart.lattice
    colours = np.array([rgb_of_hex(one.rgb) for one in file.palette]) / 255.0
    return KeptPanel.objects.create(
        title=file.title,
        note=note,
        lattice=lattice.kind,
        pitch_m=lattice.pitch_m,
        row_pitch_m=lattice.row_pitch_m,
        rows=lattice.rows,
        columns=lattice.columns,
        palette=[{"colour": one.colour, "finish": one.finish, "rgb": one.rgb} for one in file.palette],
        cells=cells_bytes(file.chart),
        recipe={"loading": file.loading},
        fingerprint=fingerprint.of_chart(file.chart, colours),
    )


def kept_change(*, kept: KeptPanel, version: int, title: str, note: str) -> None:
    """Raises Changed."""
    kept.title, kept.note = title, note
    save_unchanged(kept, version=version, fields=("title", "note"))


def kept_remove(*, kept: KeptPanel) -> None:
    kept.delete()


def kept_file(kept: KeptPanel) -> PanelFile:
    """What is kept, as it would be written to a file."""
    lattice = Lattice(kept.lattice, kept.rows, kept.columns, kept.pitch_m, kept.row_pitch_m)
    cells = np.frombuffer(bytes(kept.cells), dtype=CELLS_AS).reshape(kept.rows, kept.columns)
    palette = tuple(FileColour(one["colour"], one["finish"], one["rgb"]) for one in kept.palette)
    return PanelFile(kept.title, Chart(cells, lattice), palette, kept.recipe.get("loading", "paired"))


def kept_use(
    *,
    kept: KeptPanel,
    piece: Piece,
    sheet: SheetType,
    catalogue: Catalogue,
    instead: Mapping[int, LatexItem],
    version: int,
) -> PanelDraft:
    """The piece's draft becomes the kept panel in the studio's own balloons: `instead` names one for each palette
    number that is used. On a sheet of the same lattice every cell comes back as it was; on another one, or in another
    size, it is sampled anew like a drawing. Raises Changed, NotUsable."""
    file = kept_file(kept)
    used = sorted(file.chart.counts())
    if [number for number in used if number not in instead]:
        raise NotUsable("Choose a balloon for every colour.")
    picture = file_store(
        data=kept_png(file.chart, {number: instead[number].rgb for number in used}),
        mime="image/png",
        original_name=f"{kept.title}.png",
        width_px=round(file.chart.lattice.width_pitches * _CELL_PX),
        height_px=round(kept.rows * _row_px(file.chart.lattice)),
    )
    draft = draft_of(piece=piece, catalogue=catalogue)
    recipe = replace(
        Recipe.from_plain(draft.recipe),
        source="picture",
        of_cells=True,
        kind="flat",
        diffusion="none",
        frame=FramePart(),
        outline=Outline(),
        palette=tuple(dict.fromkeys(instead[number].id for number in used)),
        must=(),
        must_not=(),
        most_colours=None,
        sheet=sheet.id,
        rows=kept.rows,
        columns=kept.columns,
        loading=file.loading,
    )
    return draft_change(draft=draft, version=version, recipe=recipe, picture=picture)


def _row_px(lattice: Lattice) -> float:
    return _CELL_PX * lattice.row_pitch_m / lattice.pitch_m


def kept_png(chart: Chart, hexes: Mapping[int, str]) -> bytes:
    """The chart as a drawing, ten pixels a cell, see-through where a cell is empty: what it is sampled from again."""
    lattice = chart.lattice
    width, high = round(lattice.width_pitches * _CELL_PX), _row_px(lattice)
    colours = np.zeros((max(hexes) + 2, 4), dtype=np.uint8)
    for number, colour in hexes.items():
        colours[number] = (*rgb_of_hex(colour), 255)
    pixels = np.zeros((round(lattice.rows * high), width, 4), dtype=np.uint8)
    for row in range(lattice.rows):
        left = round(lattice.row_shift_pitches(row) * _CELL_PX)
        numbers = np.where(chart.cells[row] == EMPTY, len(colours) - 1, chart.cells[row])
        line = np.zeros((width, 4), dtype=np.uint8)
        line[left : left + _CELL_PX * lattice.columns] = colours[numbers].repeat(_CELL_PX, axis=0)
        pixels[round(row * high) : round((row + 1) * high)] = line
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG", compress_level=6)
    return out.getvalue()


def sheet_for(kept: KeptPanel, catalogue: Catalogue) -> SheetType | None:
    """The studio's sheet that is most like the one it was made for: of its lattice first, then of its pitch."""
    offered = catalogue.sheets_on_offer
    return min(
        offered, key=lambda one: (one.lattice != kept.lattice, abs(one.pitch_m - kept.pitch_m), one.id), default=None
    )


def nearest_items(file: PanelFile, sheet: SheetType, catalogue: Catalogue) -> dict[int, LatexItem]:
    """For each colour that is used: the balloon of the same words, else the nearest by CIEDE2000."""
    fitting = catalogue.fitting(sheet.sized_diameter_m, LOADINGS[file.loading].shape)  # type: ignore[index]
    if not fitting:
        return {}
    lab = srgb_to_lab(np.array([item.srgb for item in fitting]))
    found = {}
    for number in file.chart.counts():
        colour = file.palette[number]
        same = next((item for item in fitting if item.words == colour.words), None)
        far = delta_e_2000(srgb_to_lab(np.array(rgb_of_hex(colour.rgb)) / 255.0), lab)
        found[number] = same or fitting[int(np.argmin(far))]
    return found


def alike(picture: Sequence[Sequence[float]], most: int = 12) -> list[tuple[KeptPanel, float]]:
    """Kept panels by how near they come to a picture's fingerprint, the nearest first."""
    marked = KeptPanel.objects.exclude(fingerprint=[])
    far = [(one, fingerprint.unlikeness(picture, one.fingerprint)) for one in marked]
    return sorted(far, key=lambda pair: (pair[1], pair[0].pk))[:most]
