"""Everything that comes of a photograph: decoded, sampled, matched within stock, paired, strung, drawn, painted."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from tests.benchmarks import Comparison, Figure
from tests.benchmarks.whole_path import photograph

ROOT = Path(__file__).resolve().parents[2]
SIZES = {(92, 76, 80): ("6,992 cells × 80 colours", 250.0, 220.0), (316, 316, 120): ("99,856 × 120", 2000.0, 450.0)}


@cache
def by_itself(module: str, *words: str, given: bytes = b"") -> Any:
    """What a module of this folder prints when it runs in a process of its own."""
    command = [sys.executable, "-m", f"tests.benchmarks.{module}", *words]
    settings = os.environ | {"DJANGO_SETTINGS_MODULE": "decor.settings"}
    done = subprocess.run(command, cwd=ROOT, capture_output=True, check=True, env=settings, input=given)
    return json.loads(done.stdout)


def measured(rows: int, columns: int, colours: int) -> dict[str, Any]:
    found: dict[str, Any] = by_itself("whole_path", str(rows), str(columns), str(colours))
    return found


def comparisons() -> Iterator[Comparison]:
    """Memory is the same on every machine, or nearly so, and judged."""
    yield Comparison(
        "12 megapixel JPEG to 6,992 cell means: memory above the base",
        by_itself("sampling_memory", given=photograph()), "MB", "the limit of 15 MB", 15.0, 1.0,
    )  # fmt: skip
    for size, (words, _, most_mb) in SIZES.items():
        yield Comparison(
            f"everything, {words}: the most memory", measured(*size)["most_mb"], "MB", f"the limit of {most_mb:g} MB",
            most_mb, 1.0,
        )  # fmt: skip


def figures() -> Iterator[Figure]:
    for size, (words, most_ms, _) in SIZES.items():
        found = measured(*size)
        yield Figure(f"everything, {words}, with the proof JPEG", found["total_ms"], "ms", most_ms)
        for step, spent in found["steps"].items():
            yield Figure(f"of it: {step}", spent, "ms")
