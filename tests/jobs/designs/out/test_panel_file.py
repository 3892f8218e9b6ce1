"""A chart as a file of our own: read back without loss, and refused in words where it is not one."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import KINDS, Lattice
from jobs.designs.out.plain_json import FileColour, FileRefused, PanelFile, read, written

ROOT = Path(__file__).resolve().parents[4]
NAMES = st.text(st.characters(categories=["L", "N", "P"]), min_size=1, max_size=20)


@st.composite
def panel_files(draw):
    rows, columns = draw(st.integers(1, 9)), draw(st.integers(1, 9))
    lattice = Lattice(
        draw(st.sampled_from(KINDS)), rows, columns, draw(st.floats(0.01, 0.9)), draw(st.floats(0.01, 0.9))
    )
    colours = draw(st.integers(1, 5))
    cell = st.integers(-1, colours - 1)
    cells = np.array(draw(st.lists(cell, min_size=rows * columns, max_size=rows * columns))).reshape(rows, columns)
    cells[0, 0] = max(cells[0, 0], 0)
    palette = tuple(
        FileColour(draw(NAMES), draw(st.sampled_from(["plain", "pearl"])), f"#{draw(st.integers(0, 0xFFFFFF)):06x}")
        for _ in range(colours)
    )
    return PanelFile(draw(NAMES), Chart(cells, lattice), palette, draw(st.sampled_from(["paired", "strung"])))


@given(panel_files())
def test_what_is_written_is_read_back_without_loss(panel):
    assert read(written(panel).encode()) == panel


def test_the_described_example_is_one():
    page = (ROOT / "docs/panel-file.md").read_text()
    panel = read(page.split("```json")[1].split("```")[0].encode())
    assert panel.title == "Two by three" and panel.chart.cells.tolist() == [[0, 0, 1], [-1, 0, 1]]
    assert [one.words for one in panel.palette] == ["sky", "metallic gold"]


def good() -> dict:
    lattice = Lattice("square", 1, 2, 0.1)
    return json.loads(
        written(PanelFile("Two", Chart([[0, -1]], lattice), (FileColour("sky", "plain", "#7db3d8"),), "paired"))
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": "other"}, "not a panel's chart"),
        ({"version": 2}, "version 2"),
        ({"title": " "}, "title"),
        ({"loading": "thrown"}, "way to load"),
        ({"palette": []}, "no colours"),
        ({"palette": [{"colour": "sky"}]}, "Colour 0 needs"),
        ({"palette": [{"colour": "sky", "finish": "shiny", "rgb": "#000000"}]}, "finish of colour 0"),
        ({"cells": [[0, 7]]}, "only 1 colours"),
        ({"cells": [[0]]}, "does not fit together"),
        ({"cells": [[0, 1.5]]}, "whole numbers"),
        ({"cells": [[0, True]]}, "whole numbers"),
        ({"cells": [[0, 10**30]]}, "whole numbers"),
        ({"cells": [[-1, -1]]}, "empty"),
        ({"lattice": {"kind": "round"}}, "lattice"),
        ({"lattice": {"kind": "square", "rows": 10**9, "columns": 2, "pitch_m": 1, "row_pitch_m": 1}}, "fit together"),
        ({"lattice": {"kind": "square", "rows": 1, "columns": 2, "pitch_m": "x", "row_pitch_m": 1}}, "fit together"),
    ],
)
def test_what_does_not_fit_is_told(change, words):
    with pytest.raises(FileRefused, match=words):
        read(json.dumps(good() | change).encode())


@pytest.mark.parametrize("data", [b"", b"\xff\xfe", b"[]", b"not json", b"[" * 50_000])
def test_what_is_no_file_of_ours_is_told(data):
    with pytest.raises(FileRefused):
        read(data)
