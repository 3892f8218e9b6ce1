"""The editor's own arithmetic of cells, in the browser, against the lattice's."""

import numpy as np
import pytest

from decor.calc.picture.lattice import Lattice

pytestmark = pytest.mark.django_db(transaction=True)

LOAD = """async ([rows, columns, step, shift]) => {
  const { Grid } = await import('/static/js/chart/grid.js');
  const shapes = await import('/static/js/chart/shapes.js');
  window.grid = new Grid({ rows, columns, step, shift });
  window.shapes = shapes;
}"""
TOUCHING = """() => [...Array(grid.size).keys()].flatMap((at) => {
  const found = new Int32Array(6), n = grid.touching(at, found);
  return [...found.slice(0, n)].filter((other) => other > at).map((other) => [at, other]);
})"""
# What a shape of three corners becomes, as [from, to] cells; those that fall off the edge are left out.
LANDS = """(how) => {
  const cells = new Int16Array(grid.size).fill(-1);
  const corner = grid.columns + 1;
  const numbers = [corner, corner + 1, corner + 2, corner + grid.columns, corner + 2 * grid.columns];
  numbers.forEach((at, index) => { cells[at] = index; });
  const shape = shapes.lifted(grid, cells, numbers);
  const acts = {
    sides: () => shapes.mirroredAcross(grid, shape), ups: () => shapes.mirroredDown(grid, shape),
    half: () => shapes.halfTurned(grid, shape), quarter: () => shapes.quarterTurned(grid, shape),
    down: () => shapes.moved(grid, shape, 1, 2), right: () => shapes.moved(grid, shape, 0, 2),
    far: () => shapes.moved(grid, shape, 3, 1),
  };
  const now = acts[how]();
  return shapes.landed(grid, now).map((to, index) => [numbers[now[index].colour], to]);
}"""
PARTNERS = "([sides, ups]) => [...Array(grid.size).keys()].map((at) => shapes.partners(grid, at, sides, ups))"


@pytest.fixture
def page(chromium, live_server):
    context = chromium.new_context(base_url=live_server.url)
    page = context.new_page()
    page.goto("/sign-in/")
    yield page
    context.close()


@pytest.mark.parametrize("kind", ["square", "offset", "hex"])
def test_cells_touch_and_shapes_land_as_the_lattice_stands(page, kind):
    lattice = Lattice(kind, rows=8, columns=9, pitch_m=1.0)
    page.evaluate(LOAD, [8, 9, lattice.row_pitch_m, 0.5 if lattice.staggered else 0])
    pairs = sorted(map(tuple, page.evaluate(TOUCHING)))
    assert pairs == [tuple(pair) for pair in lattice.neighbours().tolist()]
    centres = lattice.centres_m()
    acts = ["sides", "ups", "half", "down", "right", "far"] + ([] if lattice.staggered else ["quarter"])
    for act in acts:
        landed = np.array(page.evaluate(LANDS, act))
        assert len(landed) == 5 and (landed[:, 1] >= 0).all(), act
        before, after = centres[landed[:, 0]], centres[landed[:, 1]]
        # A moved, mirrored or turned shape keeps all its distances: nothing is bent by rows that stand half over.
        apart = [np.linalg.norm(one[:, None] - one[None], axis=2) for one in (before, after)]
        assert np.allclose(*apart), act
        way = {"sides": [-1, 1], "ups": [1, -1], "half": [-1, -1]}.get(act, [1, 1])
        if act != "quarter":
            moved = after - before * way
            assert np.allclose(moved, moved[0]), act
    for flags in ((True, False), (False, True), (True, True)):
        partners = page.evaluate(PARTNERS, flags)
        whole = max(map(len, partners))
        ends = np.array([(one, found[-1]) for one, found in enumerate(partners) if len(found) == whole])
        sums = (centres[ends[:, 0]] + centres[ends[:, 1]])[:, np.array(flags)]
        assert whole == 2 ** sum(flags) and np.allclose(sums, sums[0]), "all partners are mirrored on the same axes"
        assert all(one in partners[two] for one, found in enumerate(partners) for two in found)
