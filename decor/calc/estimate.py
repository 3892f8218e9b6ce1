"""An event's estimate: its pieces, the studio's rates and prices, and the conditions, composed into figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal

from decor.calc.costs import Materials, cost_lines, piece_weight, rent_weeks
from decor.calc.figures import Estimate, GasFigures, Problem, TaskLine, Van, counted, percent, spoken_minutes, to_json
from decor.calc.inputs import EstimateInput, PieceInput, input_key
from decor.calc.materials import (
    Measured,
    gas_figures,
    hardware_lines,
    join_line,
    latex_lines,
    latex_says,
    measured,
    own_minutes,
    piece_figures,
    sheet_lines,
    spare_share_of,
    weight_says,
)
from decor.calc.physics.atmosphere import Air, standard_air
from decor.calc.physics.balloons import net_lift_kg, size_named
from decor.calc.pieces.needs import SKILLS, HardwareNeed, LatexNeed, PieceNeeds, SheetNeed, Task
from decor.calc.work.cautions import cautions_for
from decor.calc.work.conditions import Conditions
from decor.calc.work.day import Day, plan_day
from decor.calc.work.labour import CARRY_IN, INSTALL, TASK_KINDS, Spread, spread_at, task_minutes, together
from decor.calc.work.price import CostLine, Cylinder, Prices, Quote, SheetCost, ToBuy, quote
from decor.calc.work.rates import Rates
from decor.calc.work.transport import Trips, van_trips

__all__ = [
    "Conditions",
    "Cylinder",
    "Estimate",
    "EstimateInput",
    "HardwareNeed",
    "LatexNeed",
    "PieceInput",
    "PieceNeeds",
    "Prices",
    "Progress",
    "Rates",
    "SheetCost",
    "SheetNeed",
    "Task",
    "ToBuy",
    "compute",
    "input_key",
    "to_json",
]

Progress = Callable[[float, str], None]
"""Called with the share done, 0 to 1, and what is being done, in words."""


def compute(given: EstimateInput, progress: Progress | None = None) -> Estimate:
    """The whole estimate. Same input, same figures.

    Raises ValueError, naming the piece and the argument, where a piece cannot be made at all (no balloon is sold
    that large). A plan that can be made but does not work as entered comes back with its `problems`.
    """
    tell = progress if progress is not None else _silent
    rates, conditions, prices = given.rates, given.conditions, given.prices
    burst = dict(given.burst)
    tell(0.0, "Counting balloons and sheets")
    pieces = tuple(measured(piece, rates) for piece in given.pieces)
    latex, sheets, hardware = latex_lines(pieces, rates, burst), sheet_lines(pieces), hardware_lines(pieces)
    tell(0.3, "Reckoning air and helium")
    air = standard_air(conditions.altitude_m, conditions.temperature_k)
    gas = gas_figures(pieces, air, given)
    tell(0.5, "Timing the work")
    trips = van_trips(_room_m3(pieces, gas, rates), rates)
    lines = _task_lines(_all_tasks(pieces, trips, conditions, rates), rates)
    work = together([(line.minutes_middle, spread_at(line.place, rates)) for line in lines], rates.spread_together)
    day = plan_day(lines, trips, conditions, rates)
    gas = replace(gas, hours_to_last=_hours_to_last(pieces, day, conditions))
    tell(0.8, "Pricing")
    stuff = Materials(latex, sheets, hardware, gas.helium_m3, gas.cylinders, gas.cylinder_gives_m3)
    weeks = rent_weeks(conditions)
    costs = cost_lines(stuff, work, trips.legs * conditions.distance_km, given.to_buy, prices, weeks=weeks)
    low, high = _quotes(pieces, gas, costs, given)
    tell(1.0, "Done")
    return Estimate(
        input_key=input_key(given),
        pieces=tuple(piece_figures(piece, rates) for piece in pieces),
        latex=latex,
        latex_says=latex_says(latex, rates, burst),
        sheets=sheets,
        joins=join_line(pieces),
        hardware=hardware,
        gas=gas,
        tasks=lines,
        person_minutes_middle=work.middle,
        person_minutes_p80=work.p80,
        work_says=_work_says(lines, work),
        people=day.people,
        elapsed_minutes=day.elapsed_min,
        people_says=day.people_says,
        day_backwards=day.bars,
        spare_before_doors_min=day.spare_min,
        day_says=day.says,
        van=_van(trips, rates),
        skills=_skills(pieces, conditions),
        weight_kg=sum(piece.all.weight_kg for piece in pieces),
        weight_says=weight_says(pieces),
        costs=costs,
        quote_low=low,
        quote_high=high,
        price_says=_price_says(given),
        cautions=cautions_for([piece.one for piece in pieces], conditions, helium=gas.helium_m3 > 0),
        problems=(*_gas_problems(pieces, air, gas, rates, conditions), *_place_problems(pieces, day, conditions)),
    )


def _silent(share: float, says: str) -> None:
    """Nobody is listening."""


def _all_tasks(
    pieces: Sequence[Measured], trips: Trips, conditions: Conditions, rates: Rates
) -> tuple[tuple[str, Task], ...]:
    """Every piece's own tasks with its title, then what the pieces share."""
    own = tuple(
        (f"{piece.title}, each" if piece.given.count > 1 else piece.title, task)
        for piece in pieces
        for task in piece.all.tasks
    )
    balloons = sum(piece.all.balloons for piece in pieces)
    room = f"{trips.room_m3:.1f} m³ with tools"
    drive = f"{trips.legs} one-way drives of {conditions.drive_minutes:g} min"
    shared = [
        Task("pack", trips.room_m3, "workshop", says=room),
        Task("drive", trips.legs * conditions.drive_minutes, "road", people=rates.people_in_van, says=drive),
        Task("load in", trips.room_m3, "venue", says=room),
    ]
    before = [*own, *(("", task) for task in shared)]
    install = sum(task_minutes(t, rates) for _, t in before if TASK_KINDS[t.kind].stage in (CARRY_IN, INSTALL))
    shared.append(Task("strike", install, "venue", says=f"{spoken_minutes(install)} of carrying in and installing"))
    shared.append(Task("dispose", balloons, "venue", says=counted(balloons, "balloon", "balloons")))
    return (*own, *(("", task) for task in shared if task.units > 0))


def _task_lines(tasks: Sequence[tuple[str, Task]], rates: Rates) -> tuple[TaskLine, ...]:
    """Like tasks at one place are one line, and are got ready for once."""
    alike: dict[tuple[str, str, int], list[tuple[str, Task]]] = {}
    for title, task in tasks:
        alike.setdefault((task.kind, task.place, task.people), []).append((title, task))
    order = list(TASK_KINDS)
    return tuple(
        _task_line(alike[key], rates) for key in sorted(alike, key=lambda key: (order.index(key[0]), key[1], key[2]))
    )


def _task_line(tasks: Sequence[tuple[str, Task]], rates: Rates) -> TaskLine:
    first, kind = tasks[0][1], TASK_KINDS[tasks[0][1].kind]
    setup_min = rates.setup_min if kind.setup else 0.0
    middle = sum(task_minutes(task, rates) for _, task in tasks) + setup_min
    waiting = sum(task.extra_min for _, task in tasks)
    says = "; ".join(f"{title}: {task.says}" if title else task.says for title, task in tasks)
    if waiting:
        why = next(task.extra_says for _, task in tasks if task.extra_min)
        says += f"; {spoken_minutes(waiting)} more {why}"
    return TaskLine(
        kind=first.kind,
        label=kind.label,
        place=first.place,
        people=first.people,
        units=sum(task.units for _, task in tasks),
        unit=kind.unit,
        rate_says=kind.rate_says(rates),
        setup_min=setup_min,
        minutes_middle=middle,
        minutes_p80=middle * spread_at(first.place, rates),
        says=says,
    )


def _hours_to_last(pieces: Sequence[Measured], day: Day, conditions: Conditions) -> float:
    """From the first helium balloon to the event's end; 0 where there is no helium."""
    places = {piece.given.built_at for piece in pieces if piece.given.fill == "helium"}
    if not places:
        return 0.0
    if conditions.hours_between_inflation_and_end is not None:
        return conditions.hours_between_inflation_and_end
    starts = [start for place in places if (start := day.first_inflating_min(place)) is not None]
    return max((-start / 60.0 for start in starts), default=0.0) + conditions.doors_to_end_hours


def _room_m3(pieces: Sequence[Measured], gas: GasFigures, rates: Rates) -> float:
    packed = sum(piece.all.packed_volume_m3 for piece in pieces)
    return packed + rates.tools_room_m3 + gas.cylinders * rates.cylinder_room_m3


def _work_says(lines: Sequence[TaskLine], work: Spread) -> str:
    added = sum(line.minutes_middle for line in lines)
    return (
        f"{spoken_minutes(work.middle)} of work in the middle case, and four jobs in five stay under "
        f"{spoken_minutes(work.p80)}. The tasks' middles add to {spoken_minutes(added)}: what runs late costs more "
        "than what runs early saves"
    )


def _van(trips: Trips, rates: Rates) -> Van:
    full = f"{trips.fraction * 100:.0f} % full"
    says = f"{trips.room_m3:.1f} m³ with tools, in a van of {rates.van_room_m3:g} m³: "
    return Van(trips.trips, trips.fraction, trips.room_m3, says + f"{counted(trips.trips, 'trip', 'trips')}, {full}")


def _skills(pieces: Sequence[Measured], conditions: Conditions) -> tuple[str, ...]:
    """Every job has a lead; somebody drives where there is a drive."""
    asked = {skill for piece in pieces for skill in piece.one.skills} | {"lead"}
    if conditions.drive_minutes > 0:
        asked.add("drive")
    return tuple(skill for skill in SKILLS if skill in asked)


def _price_says(given: EstimateInput) -> str:
    buying = " and what must be bought" if given.to_buy else ""
    return (
        f"From: middle hours and stock in hand. To: the hours that four jobs in five stay under{buying}. "
        f"Both with {percent(given.prices.tax_fraction)} tax"
    )


def _quotes(
    pieces: Sequence[Measured], gas: GasFigures, costs: Sequence[CostLine], given: EstimateInput
) -> tuple[Quote, Quote]:
    """The lower and the upper price, each on one line for each piece, by what the pieces cost in the lower."""
    gas_low = sum((line.low for line in costs if line.kind in {"gas", "rent"}), Decimal(0))
    helium_m3 = sum(piece.volume_m3 for piece in pieces if piece.given.fill == "helium")
    burst = dict(given.burst)
    weights = tuple(
        piece_weight(
            piece.all,
            lambda key: spare_share_of(key, given.rates.spares_share, burst),
            piece.volume_m3 / helium_m3 if piece.given.fill == "helium" else 0.0,
            own_minutes(piece, given.rates),
            gas_low,
            given.prices,
        )
        for piece in pieces
    )
    titles = tuple(piece.title for piece in pieces)
    low = quote(sum((line.low for line in costs), Decimal(0)), titles, weights, given.prices)
    return low, quote(sum((line.high for line in costs), Decimal(0)), titles, weights, given.prices)


def _gas_problems(
    pieces: Sequence[Measured], air: Air, gas: GasFigures, rates: Rates, conditions: Conditions
) -> list[Problem]:
    """Helium that does not lift its own balloon, or does not last to the event's end."""
    found: list[Problem] = []
    for piece in pieces:
        sizes = {(need.nominal_in, need.shape): need for need in piece.one.latex if piece.given.fill == "helium"}
        for need in sizes.values():
            size = size_named(need.nominal_in, need.shape, rates.sizes)
            lift_kg = net_lift_kg(
                diameter_m=need.sized_diameter_m,
                latex_mass_kg=size.mass_kg,
                air=air,
                elongation=need.elongation,
            )
            hours = size.float_hours * (rates.treated_float_factor if conditions.treated else 1.0)
            what = f"{piece.given.title}: {need.nominal_in:g} in balloons on helium"
            if lift_kg <= 0 or hours == 0:
                found.append(Problem("no-lift", f"{what} do not float usefully ({lift_kg * 1000:.1f} g to spare)"))
            elif hours < gas.hours_to_last:
                found.append(
                    Problem(
                        "float-time",
                        f"{what} float for {spoken_minutes(hours * 60)}, but from inflating to the end it is "
                        f"{spoken_minutes(gas.hours_to_last * 60)}. Inflate later, treat them, or use air",
                    )
                )
    return found


def _place_problems(pieces: Sequence[Measured], day: Day, conditions: Conditions) -> list[Problem]:
    """A piece that passes no door or stands under too low a ceiling; too little time before doors."""
    found = [
        Problem("van-door", f"{piece.given.title}: too large for the van's door. Build it at the venue")
        for piece in pieces
        if not piece.one.fits_van
    ]
    if conditions.ceiling_m is not None:
        found += [
            Problem(
                "ceiling",
                f"{piece.given.title}: {piece.one.height_m:.2f} m high, but the ceiling is at "
                f"{conditions.ceiling_m:.2f} m",
            )
            for piece in pieces
            if piece.one.height_m > conditions.ceiling_m
        ]
    if not day.fits:
        window_min = conditions.load_in_to_doors_min
        there = (
            "that is more than a working day"
            if window_min is None
            else (f"but load-in is only {spoken_minutes(window_min)} before doors")
        )
        found.append(
            Problem(
                "too-late",
                f"The work at the venue takes {spoken_minutes(day.venue_min)} with "
                f"{counted(day.people, 'person', 'people')}, {there}",
            )
        )
    return found
