import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from decor.calc.picture.sheets import plan_grid


@given(st.integers(1, 40), st.integers(1, 40), st.integers(1, 25), st.integers(1, 25))
def test_every_cell_lies_on_one_sheet_and_every_edge_between_two_is_a_join(rows, columns, high, wide):
    plan = plan_grid(rows, columns, high, wide)
    owner = np.zeros((rows, columns), dtype=int)
    for number, sheet in enumerate(plan.sheets, 1):
        assert sheet.number == number
        assert 1 <= sheet.rows <= high and 1 <= sheet.columns <= wide
        part = owner[sheet.row_start : sheet.row_stop, sheet.column_start : sheet.column_stop]
        assert part.size == sheet.cells and not part.any()
        part[:] = number
    assert owner.all()

    upright, level = np.zeros((rows, columns + 1), dtype=int), np.zeros((rows + 1, columns), dtype=int)
    for join in plan.joins:
        for along in range(join.start, join.stop):
            if join.orientation == "upright":
                assert (owner[along, join.at - 1], owner[along, join.at]) == (join.first, join.second)
                upright[along, join.at] += 1
            else:
                assert (owner[join.at - 1, along], owner[join.at, along]) == (join.first, join.second)
                level[join.at, along] += 1
    np.testing.assert_array_equal(upright[:, 1:-1], owner[:, 1:] != owner[:, :-1])
    np.testing.assert_array_equal(level[1:-1], owner[1:] != owner[:-1])
    assert sum(join.length_cells for join in plan.joins) == upright.sum() + level.sum()


def test_a_panel_that_fits_on_one_sheet_has_no_join():
    plan = plan_grid(10, 12, 12, 12)
    assert len(plan.sheets) == 1 and plan.joins == ()


def test_numbers_run_row_by_row_from_the_origin_corner():
    plan = plan_grid(30, 30, 24, 24)
    assert [(sheet.number, sheet.row_start, sheet.column_start) for sheet in plan.sheets] == [
        (1, 0, 0),
        (2, 0, 24),
        (3, 24, 0),
        (4, 24, 24),
    ]
    assert [(join.first, join.second, join.orientation, join.length_cells) for join in plan.joins] == [
        (1, 2, "upright", 24),
        (1, 3, "level", 24),
        (3, 4, "upright", 6),
        (2, 4, "level", 6),
    ]


@pytest.mark.parametrize(
    ("argument", "sizes"),
    [
        ("rows", (0, 5, 5, 5)),
        ("columns", (5, -1, 5, 5)),
        ("sheet_rows", (5, 5, 0, 5)),
        ("sheet_columns", (5, 5, 5, -2)),
        ("sheet_columns", (5, 5, 5, 2.0)),
        ("rows, columns", (400, 400, 24, 24)),
    ],
)
def test_bad_sizes_are_named(argument, sizes):
    with pytest.raises(ValueError, match=f"^{argument}:"):
        plan_grid(*sizes)
