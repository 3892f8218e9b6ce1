"""Lattices, charts and pictures to try the picture arithmetic on."""

import numpy as np
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from decor.calc.picture.chart import Chart
from decor.calc.picture.lattice import KINDS, Lattice


@st.composite
def lattices(draw, max_side=12):
    side = st.integers(1, max_side)
    pitch = st.floats(0.02, 2.0)
    return Lattice(draw(st.sampled_from(KINDS)), draw(side), draw(side), draw(pitch), draw(st.none() | pitch))


@st.composite
def charts(draw, colours=4):
    lattice = draw(lattices())
    cells = arrays.arrays(np.int16, (lattice.rows, lattice.columns), elements=st.integers(-1, colours - 1))
    return Chart(draw(cells), lattice)


@st.composite
def pictures(draw, max_side=14):
    side = st.integers(1, max_side)
    return draw(arrays.arrays(np.uint8, (draw(side), draw(side), 3)))
