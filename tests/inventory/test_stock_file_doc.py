"""What is written about the file is what the program does."""

import re
from pathlib import Path

from inventory.tables.columns import ALL, COLUMNS, KIND_CELLS
from inventory.tables.files import MOST_BYTES, MOST_COLUMNS, MOST_ROWS

DOC = (Path(__file__).parents[2] / "docs" / "stock-file.md").read_text()


def kinds(of: tuple[str, ...]) -> str:
    return "all" if of == ALL else ", ".join(KIND_CELLS[kind] for kind in of)


def test_every_column_stands_in_the_table():
    table = [tuple(cell.strip() for cell in line.split("|")[1:5]) for line in DOC.splitlines() if line.startswith("| ")]
    ours = [(c.heading, kinds(c.kinds), kinds(c.needed) if c.needed else "", c.what) for c in COLUMNS]
    assert table[2:] == ours


def test_the_limits_are_those():
    (limits,) = re.findall(r"Up to (\d+) MB, ([\d,]+) rows, (\d+) columns", DOC)
    assert limits == (str(MOST_BYTES // 2**20), f"{MOST_ROWS:,}", str(MOST_COLUMNS))
