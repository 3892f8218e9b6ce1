"""Time: what each task takes, and the figure that four jobs in five stay under.

Assumptions
-----------
A task's time is log-normal about its middle. The studio's 80 % rate (1.25 × the middle in the workshop, 1.4 × on
site; from memory, no source) gives its spread. Tasks of one job are slow together in part: the crew, the weather
and the client are the same. That part is one shared factor of weight `rates.spread_together` (0.5, studio default,
no source), so that any two tasks correlate by that much. The job's own spread is the sum's, by matching its mean and
variance with a log-normal (Fenton and Wilkinson); a test holds it against drawn samples. Adding the tasks' own 80 %
figures would overstate the job, as not everything goes wrong at once.

The loading rates are those of a row in full swing; the slow first rows of each section come on top (see
`pieces.panel_work`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from decor.calc.pieces.needs import Place, Task
from decor.calc.work.rates import Rates

Z_80 = 0.8416212335729143
"""The standard normal's 80 % point."""


@dataclass(frozen=True)
class TaskKind:
    """A kind of work: its words, what is counted, minutes for one person and unit, and the rate in words.

    `stage` is its bar in the day backwards; `setup` tells whether getting ready for it takes time.
    """

    label: str
    unit: str
    stage: str
    minutes_per_unit: Callable[[Rates], float]
    rate_says: Callable[[Rates], str]
    setup: bool = False


def _hourly(
    label: str, unit: str, stage: str, per_hour: Callable[[Rates], float], *, of: str = "", setup: bool = True
) -> TaskKind:
    return TaskKind(
        label,
        unit,
        stage,
        lambda rates: 60.0 / per_hour(rates),
        lambda rates: f"{per_hour(rates):,g} {of or unit} an hour each",
        setup=setup,
    )


def _timed(
    label: str, unit: str, stage: str, minutes: Callable[[Rates], float], *, each: str, setup: bool = False
) -> TaskKind:
    return TaskKind(label, unit, stage, minutes, lambda rates: f"{_spoken(minutes(rates))} {each}", setup=setup)


def _spoken(minutes: float) -> str:
    return f"{minutes:g} min" if minutes >= 1.0 or minutes == 0.0 else f"{minutes * 60.0:g} s"


OPEN, INFLATE, LOAD, PACK, DRIVE = "Open, join", "Inflate, tie", "Load", "Pack", "Drive"
CARRY_IN, INSTALL, AFTER = "Carry in", "Install", "Strike"
STAGES = (OPEN, INFLATE, LOAD, PACK, DRIVE, CARRY_IN, INSTALL, AFTER)

TASK_KINDS: dict[str, TaskKind] = {
    "open": _timed("Open sheets", "sheets", OPEN, lambda r: r.open_sheet_min, each="a sheet", setup=True),
    "strip": _timed("Pull off edge strips", "strips", OPEN, lambda r: r.strip_min, each="a strip"),
    "join": _timed("Join tabs", "tabs", OPEN, lambda r: r.join_tab_s / 60.0, each="a tab"),
    "inflate pairs": _hourly("Inflate, size and tie pairs", "balloons", INFLATE, lambda r: r.inflate_balloons_per_hour),
    "inflate strings": _hourly(
        "Inflate, size and tie strings", "balloons", INFLATE, lambda r: r.inflate_strings_balloons_per_hour
    ),
    "mixed pairs": _timed(
        "Sort and tie mixed pairs",
        "mixed pairs",
        INFLATE,
        lambda r: r.mixed_pair_s / 60.0,
        each="more for each than for a plain one",
    ),
    "change colours": _timed(
        "Change colours along the strings", "changes", INFLATE, lambda r: r.string_change_s / 60.0, each="a change"
    ),
    "bag strings": _timed("Bag strings with their slips", "bags", INFLATE, lambda r: r.string_bag_min, each="a bag"),
    "make clusters": _hourly(
        "Make clusters, inflating included", "balloons", INFLATE, lambda r: 4.0 * r.clusters_made_per_hour
    ),
    "load paired": _hourly("Load pairs", "cells", LOAD, lambda r: r.load_paired_cells_per_hour),
    "load between rows": _hourly(
        "Load pairs between rows",
        "cells",
        LOAD,
        lambda r: r.load_paired_cells_per_hour / r.between_rows_factor,
        setup=False,
    ),
    "load two-sided": _hourly("Load two-sided units", "cells", LOAD, lambda r: r.load_two_sided_cells_per_hour),
    "load sandwich": _hourly("Load both sheets", "cells", LOAD, lambda r: r.load_sandwich_cells_per_hour),
    "load strung": _hourly("Load strings", "cells", LOAD, lambda r: r.load_strung_cells_per_hour),
    "place clusters": _hourly("Place clusters", "clusters", LOAD, lambda r: r.clusters_placed_per_hour),
    "pack": _timed("Pack the van", "m³", PACK, lambda r: r.pack_min_per_m3, each="a cubic metre"),
    "drive": TaskKind("Drive", "min", DRIVE, lambda r: 1.0, lambda r: "the drive's own time, for each in the van"),
    "load in": _timed("Unload and carry in", "m³", CARRY_IN, lambda r: r.load_in_min_per_m3, each="a cubic metre"),
    "rig": _timed(
        "Rig", "× 10 m²", INSTALL, lambda r: r.rig_up_to_10_m2_min, each="for each of them, up to 10 m²", setup=True
    ),
    "stand": _timed("Stand columns", "columns", INSTALL, lambda r: r.stand_column_min, each="a column", setup=True),
    "dress": _timed("Dress", "pieces", INSTALL, lambda r: r.dress_piece_min, each="a piece"),
    "strike": TaskKind(
        "Strike",
        "min of install",
        AFTER,
        lambda r: r.strike_share_of_install,
        lambda r: f"{r.strike_share_of_install * 100:.0f} % of carrying in and installing",
    ),
    "dispose": _hourly("Burst and bag", "balloons", AFTER, lambda r: r.dispose_balloons_per_hour, setup=False),
}
"""Every kind of work, in the order in which a job runs through them."""


@dataclass(frozen=True)
class Spread:
    """A time's middle and the figure that four jobs in five stay under, in the same unit."""

    middle: float
    p80: float


def spread_at(place: Place, rates: Rates) -> float:
    """80 % figure over middle, for work at that place; the road goes with the site."""
    return rates.spread_workshop if place == "workshop" else rates.spread_venue


def task_minutes(task: Task, rates: Rates) -> float:
    """Middle person-minutes of a task, without set-up.

    Raises ValueError naming `kind` when it is unknown.

    >>> task_minutes(Task("inflate pairs", 500, "workshop"), Rates())
    120.0
    """
    if task.kind not in TASK_KINDS:
        raise ValueError(f"kind: no task is called {task.kind}")
    return task.units * task.people * TASK_KINDS[task.kind].minutes_per_unit(rates) + task.extra_min


def together(tasks: Sequence[tuple[float, float]], correlation: float) -> Spread:
    """Middle and 80 % figure of the sum of times that are slow together in part.

    `tasks` are (middle, 80 % figure over middle); `correlation` of any two, 0 to 1. Nothing to do takes no time.
    The sum's middle lies a little above the sum of the middles, as a long task runs over by more than a short one
    falls under. Raises ValueError naming `tasks` or `correlation` where they are out of range.

    >>> round(together([(60.0, 1.25)], 0.5).p80, 6)
    75.0
    >>> both = together([(60.0, 1.25), (60.0, 1.4)], 0.5)
    >>> both.p80 < 60 * 1.25 + 60 * 1.4
    True
    """
    if not 0.0 <= correlation <= 1.0:
        raise ValueError("correlation must be between 0 and 1")
    if any(middle < 0.0 or ratio < 1.0 for middle, ratio in tasks):
        raise ValueError("tasks must have middles of 0 or more, and 80 % figures not below them")
    # Alike tasks share one row each: variance is then a sum over kinds of spread, not over pairs of tasks.
    means: dict[float, float] = {}
    own = 0.0
    for middle, ratio in tasks:
        sigma = math.log(ratio) / Z_80
        mean = middle * math.exp(sigma**2 / 2.0)
        means[sigma] = means.get(sigma, 0.0) + mean
        own += mean**2 * (math.exp(sigma**2) - math.exp(correlation * sigma**2))
    total = sum(means.values())
    if total == 0.0:
        return Spread(0.0, 0.0)
    shared = sum(
        one * other * math.expm1(correlation * s * t) for s, one in means.items() for t, other in means.items()
    )
    variance = math.log1p((own + shared) / total**2)
    middle = total * math.exp(-variance / 2.0)
    return Spread(middle, middle * math.exp(Z_80 * math.sqrt(variance)))
