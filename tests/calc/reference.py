"""Published and computed values to test against."""

import csv
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "references"


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a reference file; lines that begin with # name its source."""
    with (FOLDER / name).open(newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))
