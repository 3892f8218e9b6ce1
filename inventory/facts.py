"""What an item is, in rows of words."""

from decor.calc.units import METRES_PER_INCH
from decor.studio.models import Studio
from decor.studio.templatetags.desk import money_words, plural
from inventory.models import Cylinder, Hardware, Item, Latex, Sheet

Facts = list[tuple[str, str]]


def facts_of(item: Item, studio: Studio) -> Facts:
    kind = {"latex": _latex, "sheet": _sheet, "hardware": _hardware, "cylinder": _cylinder}[item.kind]
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
        ("Weight", f"{sheet.weight_kg:g} kg each"),
        ("Lasts", plural(sheet.uses, "event,events")),
    ]


def _hardware(hardware: Hardware, studio: Studio) -> Facts:
    return [("What", hardware.get_purpose_display())]


def _cylinder(cylinder: Cylinder, studio: Studio) -> Facts:
    return [("Holds", f"{cylinder.water_volume_l:g} litres of water, {cylinder.pressure_bar:g} bar when full")]


def _buying(item: Item, studio: Studio) -> Facts:
    price = money_words(item.pack_price, studio.currency)
    pack = f"{item.pack_size:,} for {price}" if item.pack_size > 1 else f"{price} each"
    facts = [
        ("After use", "comes back after an event" if item.returnable else "used up by an event"),
        ("Bought", pack),
        ("Delivery", plural(item.lead_days, "day,days") + " after the order"),
        ("Supplier", item.supplier),
        ("Lies in", item.bin),
    ]
    return [(what, words) for what, words in facts if words]
