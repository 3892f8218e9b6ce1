"""Two painters: whatever order their strokes arrive in, no cell is lost without being told."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.designs.editor.merging import Stroke, merged, runs_of, stroke_of_runs

CELLS, COLOURS = 6, 3


def stroke(*cells: tuple[int, int, int]) -> Stroke:
    at, now, was = np.array(cells, dtype=np.int64).T
    return Stroke(at, now, was)


def test_a_stroke_over_what_its_painter_saw_is_done():
    result = merged(np.array([0, 0, 1]), stroke((0, 2, 0), (2, -1, 1)))
    assert result.cells.tolist() == [2, 0, -1] and result.done.all()


def test_what_somebody_else_painted_stays_and_is_told():
    result = merged(np.array([5, 0, 1]), stroke((0, 2, 0), (1, 2, 0)))
    assert result.cells.tolist() == [5, 2, 1] and result.done.tolist() == [False, True]


def test_both_chose_the_same_colour():
    result = merged(np.array([2]), stroke((0, 2, 0)))
    assert result.cells.tolist() == [2] and result.done.all()


class Painter:
    """A page: what it shows, and the strokes that have not arrived."""

    def __init__(self, cells: np.ndarray) -> None:
        self.shown = cells.copy()
        self.unsent: list[Stroke] = []
        self.told: set[tuple[int, int]] = set()

    def paint(self, cells: dict[int, int]) -> None:
        rows = [(at, now, int(self.shown[at])) for at, now in sorted(cells.items()) if self.shown[at] != now]
        if rows:
            self.unsent.append(stroke(*rows))
            for at, now, _ in rows:
                self.shown[at] = now

    def see(self, server: np.ndarray) -> None:
        self.shown = server.copy()
        for one in self.unsent:
            self.shown[one.at] = one.now


acts = st.lists(
    st.tuples(
        st.integers(0, 1),
        st.one_of(
            st.dictionaries(st.integers(0, CELLS - 1), st.integers(-1, COLOURS - 1), min_size=1, max_size=4),
            st.sampled_from(["send", "see"]),
        ),
    ),
    max_size=40,
)


@given(acts)
def test_no_order_of_two_painters_loses_a_cell_in_silence(done):
    server = np.zeros(CELLS, dtype=np.int64)
    painters = [Painter(server), Painter(server)]
    author: list[int | None] = [None] * CELLS

    def send(who: int) -> None:
        painter = painters[who]
        if not painter.unsent:
            return
        one = painter.unsent.pop(0)
        result = merged(server, one)
        for at, now, was, arrived in zip(one.at, one.now, one.was, result.done, strict=True):
            before = int(server[at])
            if not arrived:
                assert result.cells[at] == before, "a cell that is told as somebody else's keeps their colour"
                painter.told.add((int(at), int(now)))
            elif before not in (was, now):
                raise AssertionError("a colour that its painter never saw was painted over")
            else:
                assert result.cells[at] == now
                author[at] = who if before != now else author[at]
        server[:] = result.cells

    wanted: dict[tuple[int, int], int] = {}
    for who, act in [*done, *[(0, "send")] * 40, *[(1, "send")] * 40]:
        if act == "send":
            send(who)
        elif act == "see":
            painters[who].see(server)
        else:
            painters[who].paint(act)
            wanted |= {(who, at): now for at, now in act.items()}
    for (who, at), now in wanted.items():
        other = author[at] == 1 - who
        assert server[at] == now or (at, now) in painters[who].told or other
    assert not any(painter.unsent for painter in painters)


@given(st.dictionaries(st.integers(0, 40), st.tuples(st.integers(-1, 3), st.integers(-1, 3)), min_size=1))
def test_runs_there_and_back(cells):
    at = np.array(sorted(cells), dtype=np.int64)
    now, was = np.array([cells[one] for one in at.tolist()], dtype=np.int64).T
    back = stroke_of_runs(runs_of(at, now, was), 41)
    assert back.at.tolist() == at.tolist() and back.now.tolist() == now.tolist() and back.was.tolist() == was.tolist()


@pytest.mark.parametrize(
    "runs",
    [
        [], [0, 1, 1], "0111", [0, 0, 1, 0], [-1, 1, 1, 0], [8, 2, 1, 0], [0, 2, 1, 0, 1, 1, 1, 0],
        [3, 1, 1, 0, 0, 1, 1, 0], [0, 1, 1, -2], [0, 1.0, 1, 0], [0, True, 1, 0], [0, 1, 10**12, 0], None,
    ],
)  # fmt: skip
def test_what_is_no_list_of_runs(runs):
    with pytest.raises(ValueError, match="runs"):
        stroke_of_runs(runs, 9)
