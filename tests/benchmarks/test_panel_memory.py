"""A panel must not need more memory than a small server has to spare."""

from tests.benchmarks import bench_panel


def test_everything_of_a_panel_fits_in_the_memory_that_was_promised():
    rows = list(bench_panel.comparisons())
    assert len(rows) == 3 and not [row.what for row in rows if row.missed]
