"""In which order the work goes, and what to mind, as the crew is told it. Nothing here reads an amount of money:
of a stored estimate only the parts named in PARTS leave the database."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from decor.calc.pieces.needs import PieceNeeds
from decor.calc.work.cautions import CAUTIONS, cautions_for
from decor.calc.work.labour import AFTER, CARRY_IN, DRIVE, PACK, STAGES, TASK_KINDS
from decor.calc.work.rates import Rates
from jobs.designs.catalogue import Catalogue
from jobs.designs.kinds import all_kinds
from jobs.designs.models import Piece
from jobs.estimates.models import Estimate
from jobs.events.conditions import event_conditions
from jobs.events.models import Event

PARTS = ("result__tasks", "result__day_backwards", "result__pieces")
PLACE_WORDS = {"workshop": "in the workshop", "road": "on the road", "venue": "at the venue"}
STEP_MIN = 5
# Work whose amount says nothing to those who do it: minutes on the road, cubic metres in the van.
UNSPOKEN_UNITS = {"min", "m³", "min of install", "× 10 m²"}


@dataclass(frozen=True)
class Step:
    label: str
    place: str
    when: str = ""
    tasks: tuple[str, ...] = ()


def order_of_work(event: Event, pieces: Sequence[Piece], needs: Sequence[PieceNeeds]) -> list[Step]:
    """With times from the newest estimate where it is of these pieces, otherwise the plain order."""
    found = Estimate.objects.filter(event=event, result__isnull=False).values_list(*PARTS).first()
    if found and found[1] and _same_pieces(found[2], pieces):
        return _timed(event, found[0] or [], found[1])
    return _plain_order(needs)


def _same_pieces(figures: list[dict[str, Any]] | None, pieces: Sequence[Piece]) -> bool:
    now = [(piece.title, piece.count, piece.built_at) for piece in pieces]
    return now == [(one["title"], one["count"], one["built_at"]) for one in figures or []]


def _timed(event: Event, tasks: list[dict[str, Any]], bars: list[dict[str, Any]]) -> list[Step]:
    steps = [
        Step(
            bar["label"],
            PLACE_WORDS[bar["place"]],
            _bar_words(event, bar),
            _tasks_of(tasks, bar["label"], bar["place"]),
        )
        for bar in bars
    ]
    strike = timezone.localtime(event.strike, event.zone)
    return [*steps, Step(AFTER, PLACE_WORDS["venue"], f"from {strike:%H:%M}", _tasks_of(tasks, AFTER, "venue"))]


def _bar_words(event: Event, bar: dict[str, Any]) -> str:
    first, last = _clock(event, bar["start_offset_min"]), _clock(event, bar["end_offset_min"])
    return first if first == last else f"{first} to {last}"


def _clock(event: Event, offset_min: float) -> str:
    """To the nearest five minutes, as nobody works to the minute."""
    at = timezone.localtime(event.doors + timedelta(minutes=STEP_MIN * round(offset_min / STEP_MIN)), event.zone)
    doors = timezone.localtime(event.doors, event.zone)
    return f"{at:%H:%M}" if at.date() == doors.date() else f"{at:%a %H:%M}"


def _tasks_of(tasks: list[dict[str, Any]], stage: str, place: str) -> tuple[str, ...]:
    mine = [
        task
        for task in tasks
        if task["kind"] in TASK_KINDS and TASK_KINDS[task["kind"]].stage == stage and task["place"] == place
    ]
    return tuple(_task_words(task) for task in mine)


def _task_words(task: dict[str, Any]) -> str:
    amount = "" if task["unit"] in UNSPOKEN_UNITS else f", {task['units']:,.0f} {task['unit']}"
    together = f", {task['people']} people together" if task["people"] > 1 else ""
    return f"{task['label']}{amount}{together}"


def _plain_order(needs: Sequence[PieceNeeds]) -> list[Step]:
    found: dict[tuple[str, str], list[str]] = {}
    for task in (task for piece in needs for task in piece.tasks):
        kind = TASK_KINDS[task.kind]
        words = found.setdefault((task.place, kind.stage), [])
        if kind.label not in words:
            words.append(kind.label)
    if found:
        for shared in (("workshop", PACK), ("road", DRIVE), ("venue", CARRY_IN), ("venue", AFTER)):
            found.setdefault(shared, [])
    order = sorted(found, key=_at)
    return [Step(stage, PLACE_WORDS[place], tasks=tuple(found[place, stage])) for place, stage in order]


def _at(key: tuple[str, str]) -> tuple[int, int]:
    """At the venue everything is carried in before anything is opened."""
    place, stage = key
    return list(PLACE_WORDS).index(place), -1 if stage == CARRY_IN else STAGES.index(stage)


def needs_of(pieces: Sequence[Piece], catalogue: Catalogue) -> list[PieceNeeds]:
    """Of those pieces whose measures the arithmetic takes; a rough one may still be without."""
    rates, kinds, found = Rates(), all_kinds(), []
    for piece in pieces:
        if piece.kind not in kinds:
            continue
        try:
            measures = kinds[piece.kind].calc_measures(
                piece.measures,
                catalogue=catalogue,
                count=piece.count,
                built_at=piece.built_at,
                panel=getattr(piece, "panel", None),
            )
            found.append(measures.needs(rates))
        except ValueError:
            continue
    return found


def cautions_of(event: Event, pieces: Sequence[Piece], needs: Sequence[PieceNeeds]) -> list[str]:
    helium = any(piece.fill == Piece.Fill.HELIUM for piece in pieces)
    keys = cautions_for(needs, event_conditions(event), helium=helium)
    return [CAUTIONS[key] for key in keys if key != "codes"]


def codes_caution() -> str:
    return CAUTIONS["codes"]


def moment_words(at: datetime, event: Event) -> str:
    return f"{timezone.localtime(at, event.zone):%H:%M}"
