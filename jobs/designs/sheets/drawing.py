"""A sheet plan drawn on its picture: sheets numbered, origin corners blacked, joins dashed, sections lettered."""

from collections.abc import Sequence
from html import escape

from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.sheets import Join, PlacedSheet, SheetPlan

CELL = 10.0
INK, LIGHT, GROUND = "#1E2421", "#FFFFFF", "#EFEBE3"


def plan_svg(chart: Chart, palette_hex: Sequence[str], plan: SheetPlan, *, title: str) -> str:
    """The chart paled, one line a run; over it the plan. Words of it stand in the page's lists.

    On a staggered lattice sheets end in steps of half a pitch; their straight boxes lie in the middle of these."""
    lattice = chart.lattice
    step = CELL * lattice.row_pitch_m / lattice.pitch_m
    width, height = lattice.width_pitches * CELL, lattice.rows * step
    aside = CELL / 4 if lattice.staggered else 0.0
    return (
        f'<svg class="net sheet-plan" viewBox="-4 -4 {width + 8:g} {height + 8:.1f}" role="img" '
        f'aria-label="{escape(title)}" font-family="Figtree, DejaVu Sans, sans-serif">'
        f'<rect x="-4" y="-4" width="{width + 8:g}" height="{height + 8:.1f}" fill="{GROUND}"/>'
        f'<g fill="none" stroke-width="{step * 1.02:.2f}" opacity=".5">{_runs(chart, palette_hex, step)}</g>'
        f'<g transform="translate({aside:g} 0)">'
        f"{''.join(_box(sheet, step) for sheet in plan.sheets)}{_joins(plan, step)}{_numbers(plan, step)}</g></svg>"
    )


def _runs(chart: Chart, palette_hex: Sequence[str], step: float) -> str:
    paths: dict[int, list[str]] = {}
    for row in range(chart.lattice.rows):
        at = chart.lattice.row_shift_pitches(row) * CELL
        for colour, length in chart.runs(row):
            if colour != EMPTY:
                paths.setdefault(colour, []).append(f"M{at:g} {(row + 0.5) * step:.1f}h{length * CELL:g}")
            at += length * CELL
    return "".join(f'<path d="{"".join(parts)}" stroke="{palette_hex[n]}"/>' for n, parts in sorted(paths.items()))


def _box(sheet: PlacedSheet, step: float) -> str:
    x, y = sheet.column_start * CELL, sheet.row_start * step
    side = min(14.0, sheet.columns * CELL / 3, sheet.rows * step / 3)
    return (
        f'<rect x="{x:g}" y="{y:.1f}" width="{sheet.columns * CELL:g}" height="{sheet.rows * step:.1f}" fill="none" '
        f'stroke="{INK}" stroke-width="1.2"/>'
        f'<path d="M{x:g} {y:.1f}h{side:.1f}l{-side:.1f} {side:.1f}z" fill="{INK}"/>'
    )


def _joins(plan: SheetPlan, step: float) -> str:
    """Dashed on a light line; those left to the venue dotted on a broad dark one."""
    late = set(plan.left_for_venue())
    here = "".join(_line(join, step) for join in plan.joins if join not in late)
    there = "".join(_line(join, step) for join in plan.joins if join in late)
    drawn = ""
    if here:
        drawn += (
            f'<path d="{here}" fill="none" stroke="{LIGHT}" stroke-width="4"/>'
            f'<path d="{here}" fill="none" stroke="{INK}" stroke-width="2" stroke-dasharray="6 4"/>'
        )
    if there:
        drawn += (
            f'<path d="{there}" fill="none" stroke="{INK}" stroke-width="6"/>'
            f'<path d="{there}" fill="none" stroke="{LIGHT}" stroke-width="2" stroke-dasharray="2 4"/>'
        )
    return drawn


def _line(join: Join, step: float) -> str:
    if join.orientation == "upright":
        return f"M{join.at * CELL:g} {join.start * step:.1f}V{join.stop * step:.1f}"
    return f"M{join.start * CELL:g} {join.at * step:.1f}H{join.stop * CELL:g}"


def _numbers(plan: SheetPlan, step: float) -> str:
    letters = {part.number: part.letter for part in plan.sections} if len(plan.sections) > 1 else {}
    # On a phone a drawing of many sheets is small: the numbers take what room there is.
    words = []
    for sheet in plan.sheets:
        size = max(9.0, min(sheet.columns * CELL, sheet.rows * step) / 2.6)
        x = (sheet.column_start + sheet.columns / 2) * CELL
        y = (sheet.row_start + sheet.rows / 2) * step + size * 0.35
        letter = f'<tspan font-weight="450">{letters[sheet.section]}</tspan>' if letters else ""
        words.append(f'<text x="{x:g}" y="{y:.1f}" font-size="{size:.1f}">{letter}{sheet.number}</text>')
    return (
        f'<g text-anchor="middle" font-weight="680" fill="{INK}" stroke="{LIGHT}" stroke-width="5" '
        f'stroke-linejoin="round" paint-order="stroke">{"".join(words)}</g>'
    )
