"""What could stand in for an item: another colour of the same size and shape, other sheets of the same net, another
pole. Only what may serve is named here; whether enough of it is free is asked of the store."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np

from decor.calc.picture.colour import delta_e_2000_table, srgb_to_lab
from inventory.models import Cylinder, Foil, Hardware, Item, Latex, Sheet

LIKE, CLOSE, SHADE = 2.0, 5.0, 12.0
"""CIEDE2000 below which two colours are hardly to be told apart, close, another shade of the same; from SHADE on a
client would call it another colour, and it is no longer offered in its place. Common practice, no published source: of
a studio's two dozen colours pale blue and sky (8.8) or ivory and white (9.3) stand in for each other; grey and silver
(12.3), silver and white (13.9), blue and navy (15.8) do not."""
LOOKED_AT = 8
"""So many of the nearest are asked for; the store may have none of the very nearest."""


@dataclass(frozen=True)
class Candidate:
    """An item that may stand in, how many of it for the missing ones, and in words how it differs. `far` tells that
    everybody would see it; `difference` is CIEDE2000 where it is a colour."""

    item: Item
    wanted: int
    says: str
    far: bool = False
    difference: float | None = None


def difference_words(difference: float) -> str:
    """
    >>> [difference_words(d) for d in (0.4, 3.0, 8.0, 30.0)]
    ['hardly to be told apart', 'close', 'another shade', 'plainly another colour']
    """
    if difference < LIKE:
        return "hardly to be told apart"
    if difference < CLOSE:
        return "close"
    return "another shade" if difference < SHADE else "plainly another colour"


def candidates(short: Mapping[int, int], items: Mapping[int, Item]) -> dict[int, list[Candidate]]:
    """{item id: what may stand in for its missing ones, the most alike first}. `short` is {item id: missing}; `items`
    come with what they are (`latex`, `sheet` and so on). One query for each kind that is short."""
    found: dict[int, list[Candidate]] = {}
    by_kind = {Item.Kind.LATEX: _latex, Item.Kind.SHEET: _sheets, Item.Kind.HARDWARE: _hardware}
    by_kind |= {Item.Kind.CYLINDER: _cylinders, Item.Kind.FOIL: _foils}
    for kind, look in by_kind.items():
        mine = {pk: items[pk] for pk in short if items[pk].kind == kind}
        if mine:
            found |= look(mine, short)
    return found


def _latex(mine: Mapping[int, Item], short: Mapping[int, int]) -> dict[int, list[Candidate]]:
    wanted = [item.latex for item in mine.values()]
    sizes = {(one.nominal_in, one.shape) for one in wanted}
    offered = [
        one
        for one in Latex.objects.filter(active=True, nominal_in__in={size for size, _ in sizes}).order_by("pk")
        if (one.nominal_in, one.shape) in sizes
    ]
    if not offered:
        return {}
    table = delta_e_2000_table(_lab(wanted), _lab(offered))
    found = {}
    for row, one in enumerate(wanted):
        alike = [
            (float(table[row, at]), other)
            for at, other in enumerate(offered)
            if other.pk != one.pk and (other.nominal_in, other.shape) == (one.nominal_in, one.shape)
        ]
        # The same finish first, as long as the colour is not plainly another one.
        near = {other.pk: apart < SHADE for apart, other in alike}
        alike.sort(key=lambda p: (not near[p[1].pk], near[p[1].pk] and p[1].finish != one.finish, p[0], p[1].pk))
        found[one.pk] = [_colour(one, other, apart, short[one.pk]) for apart, other in alike[:LOOKED_AT]]
    return found


def _lab(latex: Iterable[Latex]) -> np.ndarray:
    rgb = [[int(one.rgb[at : at + 2], 16) / 255.0 for at in (1, 3, 5)] for one in latex]
    return srgb_to_lab(np.array(rgb).reshape(-1, 3))


def _colour(one: Latex, other: Latex, apart: float, missing: int) -> Candidate:
    says = difference_words(apart)
    if other.finish != one.finish:
        says += f", {other.get_finish_display().lower()} instead of {one.get_finish_display().lower()}"
    return Candidate(other, missing, says, far=apart >= SHADE, difference=apart)


def _sheets(mine: Mapping[int, Item], short: Mapping[int, int]) -> dict[int, list[Candidate]]:
    """By cells: a panel of an event is laid anew with its own plan, where its chart is known."""
    offered = list(Sheet.objects.filter(active=True).order_by("name"))
    found = {}
    for item in mine.values():
        one = item.sheet
        alike = [other for other in offered if other.pk != one.pk and same_net(one, other)]
        alike.sort(key=lambda other: abs(other.rows * other.columns - one.rows * one.columns))
        found[one.pk] = [_sheet(one, other, short[one.pk]) for other in alike[:LOOKED_AT]]
    return found


def same_net(one: Sheet, other: Sheet) -> bool:
    def of(sheet: Sheet) -> tuple[object, ...]:
        return (
            sheet.lattice,
            round(sheet.pitch_m, 5),
            round(sheet.row_pitch_m or 0, 5),
            round(sheet.sized_diameter_m, 5),
        )

    return of(one) == of(other)


def _sheet(one: Sheet, other: Sheet, missing: int) -> Candidate:
    ours, theirs = one.rows * one.columns, other.rows * other.columns
    size = "smaller" if theirs < ours else "larger" if theirs > ours else "as large"
    says = f"the same net, {size}: {other.columns} wide, {other.rows} high; so many carry as many cells"
    return Candidate(other, ceil(missing * ours / theirs), says)


def _hardware(mine: Mapping[int, Item], short: Mapping[int, int]) -> dict[int, list[Candidate]]:
    purposes = {item.hardware.purpose for item in mine.values()} - {"other"}
    offered = list(Hardware.objects.filter(active=True, purpose__in=purposes).order_by("name")) if purposes else []
    return {
        pk: [
            Candidate(other, short[pk], f"another {other.get_purpose_display().lower()}")
            for other in offered
            if other.pk != pk and other.purpose == item.hardware.purpose and other.returnable == item.returnable
        ][:LOOKED_AT]
        for pk, item in mine.items()
    }


def _cylinders(mine: Mapping[int, Item], short: Mapping[int, int]) -> dict[int, list[Candidate]]:
    offered = list(Cylinder.objects.filter(active=True).order_by("name"))
    return {pk: [_cylinder(item.cylinder, o, short[pk]) for o in offered if o.pk != pk] for pk, item in mine.items()}


def _cylinder(one: Cylinder, other: Cylinder, missing: int) -> Candidate:
    """By what they hold when full: near enough to borrow by, and the estimate reckons with the real gas."""
    ours, theirs = one.water_volume_l * one.pressure_bar, other.water_volume_l * other.pressure_bar
    says = f"{other.water_volume_l:g} litres at {other.pressure_bar:g} bar; so many hold about as much"
    return Candidate(other, ceil(missing * ours / theirs), says)


def _foils(mine: Mapping[int, Item], short: Mapping[int, int]) -> dict[int, list[Candidate]]:
    shapes = {item.foil.shape for item in mine.values()}
    offered = list(Foil.objects.filter(active=True, shape__in=shapes).order_by("name"))
    return {
        pk: [
            Candidate(
                other, short[pk], f"the same shape, {other.height_cm:g} cm" if other.height_cm else "the same shape"
            )
            for other in offered
            if other.pk != pk and other.shape == item.foil.shape
        ][:LOOKED_AT]
        for pk, item in mine.items()
    }
