"""Chart paper's layout: everything on the page, nothing over another, codes that cannot be mistaken.

The page sizes are those of ISO 216 (A4) and ANSI/ASME Y14.1 (Letter, 8.5 × 11 in)."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from decor.calc.picture.lattice import KINDS, Lattice
from decor.calc.picture.paper import (
    BIT_MM,
    KEY_MM,
    MARGIN_MM,
    MARKER_MM,
    PAPERS_MM,
    code_of,
    code_read,
    paper_layout,
    paper_parts,
)


def test_pages_have_their_standard_sizes():
    assert PAPERS_MM["A4"] == (210.0, 297.0)
    assert PAPERS_MM["Letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))


@settings(max_examples=25, deadline=None)
@given(
    kind=st.sampled_from(KINDS),
    rows=st.integers(1, 110),
    columns=st.integers(1, 110),
    colours=st.integers(1, 16),
    paper=st.sampled_from(sorted(PAPERS_MM)),
)
def test_everything_lies_on_the_page_and_nothing_on_another(kind, rows, columns, colours, paper):
    lattice = Lattice(kind, rows, columns, 0.1)
    cells = 0
    for part in paper_parts(lattice, colours=colours, paper=paper):
        layout = paper_layout(lattice, part, colours=colours, paper=paper)
        cells += len(layout.cells)
        r = layout.radius_mm
        assert (layout.cells - r >= MARGIN_MM - 1e-6).all()
        assert (layout.cells + r <= np.array(layout.page_mm) - MARGIN_MM + 1e-6).all()
        assert layout.cells[:, 1].min() - r > layout.bits[:, 1].max() + BIT_MM / 2
        assert layout.cells[:, 1].min() - r > layout.markers[0, 1] + MARKER_MM / 2
        assert layout.cells[:, 1].max() + r < layout.keys[:, 1].min() - KEY_MM / 2
        keys = np.abs(layout.keys[:, None] - layout.keys[None]).max(axis=2)
        assert (keys[~np.eye(colours, dtype=bool)] > KEY_MM).all()
        assert (np.abs(layout.keys[:, None] - layout.markers[None]).max(axis=2) > (KEY_MM + MARKER_MM) / 2).all()
        assert (np.abs(layout.bits[:, None] - layout.markers[None]).max(axis=2) > (BIT_MM + MARKER_MM) / 2).all()
        near = layout.cells[: 3 * part.columns]
        far = np.sqrt(((near[:, None] - layout.gaps[:4].reshape(-1, 2)[None]) ** 2).sum(axis=2))
        assert far.min() > r + 0.1
    assert cells == rows * columns


def test_no_code_is_another_with_fewer_than_three_squares_misread():
    codes = [np.array(code_of(paper, page)) for paper in (0, 1, 2, 77, 2047) for page in (1, 2, 3, 16)]
    assert all((one != other).sum() >= 2 for one, other in combinations(codes, 2))
    for paper in (0, 1, 77, 2047):
        for page in (1, 2, 16):
            code = code_of(paper, page)
            assert code_read(code) == (paper, page)
            assert code_read(code[::-1]) is None
            for at in range(len(code)):
                assert code_read([bit ^ (place == at) for place, bit in enumerate(code)]) is None


def test_bad_arguments_are_named():
    lattice = Lattice("square", 10, 10, 0.1)
    with pytest.raises(ValueError, match="colours"):
        paper_parts(lattice, colours=17)
    with pytest.raises(ValueError, match="paper"):
        paper_parts(lattice, colours=3, paper="A5")
    with pytest.raises(ValueError, match="pages"):
        paper_parts(Lattice("square", 300, 300, 0.1), colours=3)
    with pytest.raises(ValueError, match="page"):
        code_of(1, 0)
    with pytest.raises(ValueError, match="paper"):
        code_of(-1, 1)
