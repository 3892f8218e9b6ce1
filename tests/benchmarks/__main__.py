"""Runs every bench_*.py of this folder and prints one Markdown table."""

import os
import sys
from importlib import import_module
from pathlib import Path

from tests.benchmarks import Comparison


def line(row: Comparison) -> str:
    def figure(value: float | None) -> str:
        return "" if value is None else f"{value:,.3g}" if value < 100 else f"{value:,.0f}"

    limit = "" if row.most_ratio is None else f"≤ {row.most_ratio:g}"
    verdict = "missed" if row.missed else "held" if row.most_ratio is not None else ""
    cells = (row.what, f"{figure(row.ours)} {row.unit}", row.peer_name, figure(row.peer), figure(row.ratio))
    return f"| {' | '.join((*cells, limit, verdict))} |"


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "decor.settings")
    print("| what | ours | peer | peer's | ratio | limit | |")
    print("| --- | ---: | --- | ---: | ---: | ---: | --- |")
    missed = 0
    for path in sorted(Path(__file__).parent.glob("bench_*.py")):
        for row in import_module(f"tests.benchmarks.{path.stem}").comparisons():
            print(line(row), flush=True)
            missed += row.missed
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
