"""Runs every bench_*.py of this folder, or those that are named, and prints two Markdown tables."""

import os
import sys
import tempfile
from importlib import import_module
from pathlib import Path
from types import ModuleType

from tests.benchmarks import Comparison, Figure


def figure(value: float | None) -> str:
    return "" if value is None else f"{value:,.3g}" if value < 100 else f"{value:,.0f}"


def line(row: Comparison) -> str:
    limit = "" if row.most_ratio is None else f"≤ {row.most_ratio:g}"
    verdict = "missed" if row.missed else "held" if row.most_ratio is not None else ""
    cells = (row.what, f"{figure(row.ours)} {row.unit}", row.peer_name, figure(row.peer), figure(row.ratio))
    return f"| {' | '.join((*cells, limit, verdict))} |"


def figure_line(row: Figure) -> str:
    target = "" if row.most is None else f"≤ {row.most:,g} {row.unit}"
    return f"| {row.what} | {figure(row.measured)} {row.unit} | {target} | {row.verdict} |"


def modules(names: list[str]) -> list[ModuleType]:
    found = sorted(path.stem for path in Path(__file__).parent.glob("bench_*.py"))
    if unknown := set(names) - {name.removeprefix("bench_") for name in found}:
        raise SystemExit(f"there is no bench_{min(unknown)}.py")
    return [import_module(f"tests.benchmarks.{n}") for n in found if not names or n.removeprefix("bench_") in names]


def main(names: list[str]) -> int:
    chosen, missed = modules(names), 0
    print("| what | ours | peer | peer's | ratio | limit | |")
    print("| --- | ---: | --- | ---: | ---: | ---: | --- |")
    for module in chosen:
        for row in getattr(module, "comparisons", tuple)():
            print(line(row), flush=True)
            missed += row.missed
    print("\n| what | measured | target | |")
    print("| --- | ---: | ---: | --- |")
    for module in chosen:
        for row in getattr(module, "figures", tuple)():
            print(figure_line(row), flush=True)
    return 1 if missed else 0


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="knotbook-") as var:
        # A folder of its own: nothing that is kept here is read or changed.
        os.environ |= {"KNOTBOOK_VAR": var, "DJANGO_SETTINGS_MODULE": "decor.settings"}
        sys.exit(main(sys.argv[1:]))
