"""What would close the gaps of an event: everything that the store knows, and its panels laid with other sheets."""

from collections import Counter
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from decimal import Decimal

from django.urls import reverse
from django.utils import timezone

from decor.calc.picture.lattice import MOST_CELLS
from decor.calc.pieces.panel import sheet_grid
from decor.calc.pieces.panel_ways import LOADINGS
from decor.calc.work.rates import Rates
from decor.studio.templatetags.desk import money_words, plural
from inventory.availability import free
from inventory.check_views import check_address
from inventory.gap_words import Closer, GapLine, gap_line
from inventory.gaps import Asked, Lack, gaps_of
from inventory.models import Reservation
from jobs.designs.catalogue import Catalogue, SheetType
from jobs.designs.kinds import panel as panel_kind
from jobs.designs.models import Piece
from jobs.designs.sheets.plans import Planned, planned, sheet_of, types_like
from jobs.desk.laying import on_sheet
from jobs.desk.stock import asker_of
from jobs.estimates.needs import StockLine, cheapest
from jobs.events.models import Event
from jobs.events.shelf import StockSpan

MOST_PLANS = 3


def wanted_of(lines: Iterable[StockLine]) -> dict[int, int]:
    """{item id: how many}, of what names its item; where any of several serves, of the one that is bought."""
    wanted: Counter[int] = Counter()
    for line in lines:
        if line.need.choices and (line.need.named or line.need.what != "latex"):
            wanted[line.need.item_id or cheapest(line.need).id] += line.need.quantity
    return dict(wanted)


def check_url(
    lines: Iterable[StockLine], span: StockSpan, *, back: str, called: str, promise: Reservation | None = None
) -> str:
    """The page on which any list is checked, with this one filled in; empty where nothing is named."""
    wanted = wanted_of(lines)
    if not wanted:
        return ""
    return check_address(
        wanted, span.starts, span.ends, back=back, called=called, promise=promise.pk if promise is not None else None
    )


def event_gaps(
    event: Event, short: Sequence[StockLine], lines: Sequence[StockLine], span: StockSpan, *, currency: str,
    pieces: Sequence[Piece], catalogue: Catalogue,
) -> list[GapLine]:  # fmt: skip
    """Of the lines that are short and that the store knows, the most urgent first."""
    known = [line for line in short if line.need.choices]
    asker = asker_of(event, reverse("jobs:event-stock", args=[event.pk]))
    found = []
    seen: dict[int, Lack] = {}
    for line in known:
        lack = _lack(line)
        if lack.item_id in seen:
            continue
        seen[lack.item_id] = lack
        found.append((line, lack))
    asked = Asked(span.starts, span.ends, timezone.now(), event.reservation, wanted_of(lines))
    gaps = gaps_of(seen.values(), asked)
    shown = []
    for line, lack in found:
        told = gap_line(gaps[lack.item_id], currency, asker=asker)
        if not line.need.named:
            told = replace(told, name=f"Any {line.need.label}", rgb="")
        if line.need.what == "sheet":
            told = _with_plans(told, event, span, pieces, catalogue, currency)
        shown.append(told)
    return shown


def _lack(line: StockLine) -> Lack:
    choices = frozenset(choice.id for choice in line.need.choices)
    item_id = line.need.item_id or cheapest(line.need).id
    return Lack(item_id, line.need.quantity, line.free, frozenset() if line.need.named else choices)


@dataclass(frozen=True)
class OtherPlan:
    """One panel laid without the sheet type that is short: {sheet type: how many}, for all pieces alike."""

    piece: Piece
    sheets: dict[SheetType, int]
    joins: int
    cost: Decimal


def _with_plans(
    told: GapLine, event: Event, span: StockSpan, pieces: Sequence[Piece], catalogue: Catalogue, currency: str
) -> GapLine:
    """Real plans take the place of counting cells."""
    plans = [plan for piece in pieces for plan in other_plans(piece, told.item.pk, catalogue)]
    if not plans:
        return told
    ids = {sheet.id for plan in plans for sheet in plan.sheets}
    there = free(ids, span.starts, span.ends, exclude=event.reservation)
    # The most of it that is there comes first, then the cheapest.
    plans.sort(key=lambda plan: (sum(max(0, n - there[s.id]) for s, n in plan.sheets.items()), plan.cost))
    closers = [_plan_closer(plan, there, currency) for plan in plans[:MOST_PLANS]]
    others = [closer for closer in told.closers if closer.how != "Instead"]
    return replace(told, closers=(*others[:1], *closers, *others[1:]))


def other_plans(piece: Piece, sheet_id: int, catalogue: Catalogue) -> list[OtherPlan]:
    """The same chart on other sheets of the same net: on all of them together, and on each alone. While only its size
    is known, on each type on which it could be begun."""
    panel = getattr(piece, "panel", None)
    if panel is None:
        return _rough_plans(piece, sheet_id, catalogue)
    try:
        used = {kind.id for kind in _types_used(planned(panel, catalogue))}
        alike = types_like(sheet_of(panel, catalogue), catalogue)
    except ValueError:
        return []
    others = [kind for kind in alike if kind.id != sheet_id]
    if sheet_id not in used or not others:
        return []
    choices = [others] + ([[kind] for kind in others] if len(others) > 1 else [])
    found: dict[tuple[tuple[int, int], ...], OtherPlan] = {}
    for kinds in choices:
        plan = _laid(piece, kinds, catalogue)
        if plan is not None:
            found.setdefault(tuple(sorted((kind.id, n) for kind, n in plan.sheets.items())), plan)
    return list(found.values())


def _rough_plans(piece: Piece, sheet_id: int, catalogue: Catalogue) -> list[OtherPlan]:
    if piece.kind != panel_kind.KEY or not piece.measures.get("rough"):
        return []
    others = [kind for kind in catalogue.sheets_on_offer if kind.id != sheet_id]
    return [plan for kind in others if (plan := _rough_on(piece, kind, sheet_id, catalogue)) is not None]


def _rough_on(piece: Piece, kind: SheetType, sheet_id: int, catalogue: Catalogue) -> OtherPlan | None:
    try:
        moved = on_sheet(piece.measures, kind, {sheet_id}, catalogue)
        if moved is None:
            return None
        measures = panel_kind.calc_measures(moved, catalogue=catalogue, built_at=piece.built_at)
    except ValueError:  # such a panel can't be made of them
        return None
    if measures.cells > MOST_CELLS:
        return None
    grid = sheet_grid(measures, Rates())
    sheets = {kind: grid.sheets * piece.count}
    return OtherPlan(piece, sheets, grid.joins.edges * piece.count, kind.cost_per_use * sheets[kind])


def _laid(piece: Piece, kinds: Sequence[SheetType], catalogue: Catalogue) -> OtherPlan | None:
    panel = copy(piece.panel)
    panel.plan = {"allowed": [kind.id for kind in kinds]}
    laid = planned(panel, catalogue)
    if laid.problem or not {kind.id for kind in _types_used(laid)} <= {kind.id for kind in kinds}:
        return None
    times = LOADINGS[panel.loading].layers * piece.count  # type: ignore[index]
    counts = Counter(laid.types[sheet.size] for sheet in laid.plan.sheets)
    sheets = {kind: n * times for kind, n in counts.most_common()}
    joins = len({(join.first, join.second) for join in laid.plan.joins}) * times
    return OtherPlan(piece, sheets, joins, sum((kind.cost_per_use * n for kind, n in sheets.items()), Decimal(0)))


def _types_used(laid: Planned) -> set[SheetType]:
    return {laid.types[sheet.size] for sheet in laid.plan.sheets}


def _plan_closer(plan: OtherPlan, there: dict[int, int], currency: str) -> Closer:
    lacking = [f"{n - there[kind.id]:,} of {kind.name}" for kind, n in plan.sheets.items() if n > there[kind.id]]
    sheets = " and ".join(f"{n:,} of {kind.name}" for kind, n in plan.sheets.items())
    free_words = f"short of {', '.join(lacking)}" if lacking else "all free"
    small = f"{plural(plan.joins, 'join,joins')}, {money_words(plan.cost, currency)} for this use"
    at = [plan.piece.event_id, plan.piece.pk]
    if getattr(plan.piece, "panel", None) is None:
        (kind,) = plan.sheets
        href = f"{reverse('jobs:piece-edit', args=at)}?sheet={kind.id}"
        return Closer("Instead", f"{plan.piece.title} on {sheets}: {free_words}", small, href, "Choose them")
    href = reverse("jobs:panel-sheets", args=at)
    return Closer("Instead", f"{plan.piece.title} on {sheets}: {free_words}", small, href, "See its sheets")
