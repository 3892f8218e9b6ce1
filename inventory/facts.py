"""What an item is, in rows of words."""

from decor.calc.picture.lattice import MOST_CELLS, Lattice
from decor.calc.units import METRES_PER_INCH, m_to_feet
from decor.studio.models import Studio
from decor.studio.templatetags.desk import money_words, plural
from inventory.foils import lift_doubt
from inventory.models import Cylinder, Foil, Hardware, Item, Latex, Sheet

Facts = list[tuple[str, str]]


def facts_of(item: Item, studio: Studio) -> Facts:
    kind = {"latex": _latex, "sheet": _sheet, "hardware": _hardware, "cylinder": _cylinder, "foil": _foil}[item.kind]
    return kind(getattr(item, item.kind), studio) + _buying(item, studio)


def _length(metres: float, studio: Studio) -> str:
    if studio.units == "metric":
        return f"{metres * 1000:.4g} mm"
    return f"{metres / METRES_PER_INCH:.3g} in"


def _latex(latex: Latex, studio: Studio) -> Facts:
    facts = [
        ("Size", f"{latex.nominal_in.normalize():f} in, {latex.get_shape_display().lower()}"),
        ("Colour", f"{latex.colour}, {latex.get_finish_display().lower()}"),
    ]
    return facts + ([("Weight", f"{latex.mass_g:g} g each")] if latex.mass_g else [])


def _sheet(sheet: Sheet, studio: Studio) -> Facts:
    pitch = f"{_length(sheet.pitch_m, studio)} from cell to cell"
    if sheet.row_pitch_m:
        pitch += f", {_length(sheet.row_pitch_m, studio)} from row to row"
    return [
        ("Cells", f"{sheet.columns} wide, {sheet.rows} high"),
        ("Lattice", f"{sheet.get_lattice_display().lower()}, {pitch}"),
        ("Balloons", f"sized to {_length(sheet.sized_diameter_m, studio)}"),
        ("Join tabs", f"{sheet.tabs_per_side} on a side, {sheet.tabs_per_end} on top and bottom"),
        ("Opened", _opened(sheet, studio)),
        ("Weight", f"{sheet.weight_kg:g} kg each"),
        ("Lasts", plural(sheet.uses, "event,events")),
    ]


def _opened(sheet: Sheet, studio: Studio) -> str:
    if sheet.rows * sheet.columns > MOST_CELLS:
        return "larger than any net that is planned"
    net = Lattice(sheet.lattice, sheet.rows, sheet.columns, sheet.pitch_m, sheet.row_pitch_m)
    if studio.units == "metric":
        return f"{net.width_m:.2f} × {net.height_m:.2f} m"
    return f"{m_to_feet(net.width_m):.1f} × {m_to_feet(net.height_m):.1f} ft"


def _hardware(hardware: Hardware, studio: Studio) -> Facts:
    return [("What", hardware.get_purpose_display())]


def _cylinder(cylinder: Cylinder, studio: Studio) -> Facts:
    holds = f"{cylinder.water_volume_l:g} litres of water, {cylinder.pressure_bar:g} bar when full"
    rent = f"rented, {money_words(cylinder.rent_per_week, studio.currency)} a week" if cylinder.rented else "your own"
    return [("Holds", holds), ("Whose", rent)]


def _foil(foil: Foil, studio: Studio) -> Facts:
    facts = [("Shape", foil.shape)]
    if foil.height_cm:
        facts.append(("Height", f"{foil.height_cm:g} cm when full"))
    facts.append(("Holds", f"{foil.gas_volume_l:g} litres of gas" if foil.gas_volume_l else "air"))
    if foil.lift_g is not None:
        facts.append(("Lifts", f"{foil.lift_g:g} g by its packet"))
    doubt = lift_doubt(foil)
    return facts + ([("Check", doubt)] if doubt else [])


def _buying(item: Item, studio: Studio) -> Facts:
    price = money_words(item.pack_price, studio.currency)
    pack = f"{item.pack_size:,} for {price}" if item.pack_size > 1 else f"{price} each"
    facts = [
        ("After use", "comes back after an event" if item.returnable else "used up by an event"),
        ("Bought", pack),
        ("Delivery", plural(item.lead_days, "day,days") + " after the order"),
        ("Supplier", item.supplier),
        ("Lies in", item.bin),
        ("Order again", _level_words(item)),
    ]
    return [(what, words) for what, words in facts if words]


def _level_words(item: Item) -> str:
    """What is used up is measured by what is free, what comes back by what there is of it."""
    if item.reorder_level is None:
        return ""
    return f"when fewer than {item.reorder_level:,} are {'yours' if item.returnable else 'free'}"
