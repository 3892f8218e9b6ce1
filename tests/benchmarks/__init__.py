"""Speed, measured beside a named peer in the same run on the same machine.

`python -m tests.benchmarks` prints a Markdown table and fails when a ratio is missed. Milliseconds
are only told; ratios are what must hold, as they mean the same on every machine.

A module ``bench_*.py`` here holds a function ``comparisons`` that gives `Comparison`s, or ``figures`` that gives
`Figure`s. Words after the command name the modules to run.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Comparison:
    """Ours over the peer's, in one unit. Without a peer it is only told; without a limit, not judged."""

    what: str
    ours: float
    unit: str = "ms"
    peer_name: str = ""
    peer: float | None = None
    most_ratio: float | None = None

    @property
    def ratio(self) -> float | None:
        return None if self.peer is None else self.ours / self.peer

    @property
    def missed(self) -> bool:
        return self.ratio is not None and self.most_ratio is not None and self.ratio > self.most_ratio


@dataclass(frozen=True)
class Figure:
    """What was measured beside what the program is meant to keep. It is told, never judged."""

    what: str
    measured: float
    unit: str
    most: float | None = None

    @property
    def verdict(self) -> str:
        return "" if self.most is None else "kept" if self.measured <= self.most else "missed"


def middle_ms(call: Callable[[], object], times: int = 5) -> float:
    """The middle of several warm runs."""
    call()
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        spent.append((time.perf_counter() - start) * 1000.0)
    return sorted(spent)[times // 2]


def best_in_turns_ms(ours: Callable[[], object], peer: Callable[[], object], times: int = 7) -> tuple[float, float]:
    """The quickest run of each side, by turns and after a warm one: what else runs meanwhile meets both sides alike,
    and can only lengthen a run (as Python's timeit says of its minimum)."""
    spent: tuple[list[float], list[float]] = [], []
    for turn in range(times + 1):
        for side, call in zip(spent, (ours, peer), strict=True):
            start = time.perf_counter()
            call()
            if turn:
                side.append((time.perf_counter() - start) * 1000.0)
    return min(spent[0]), min(spent[1])
