"""The columns of a stock file: what each is called, for which kinds it is, and how its cells become values and back.

A cell goes through the field of the form that asks for the same thing, so both refuse the same in the same words."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from decor.studio.models import Studio
from inventory.forms import FORMS, MOST_PIECES
from inventory.models import Item
from inventory.swatches import NEAR

L, S, H, C, F = (Item.Kind.LATEX, Item.Kind.SHEET, Item.Kind.HARDWARE, Item.Kind.CYLINDER, Item.Kind.FOIL)
ALL = (L, S, H, C, F)
KIND_CELLS = {L: "balloons", S: "sheet", H: "hardware", C: "cylinder", F: "foil"}
_KIND_OF = {"latex": L, "balloon": L, "sheets": S, "cylinders": C, "gas cylinder": C, "foil shape": F, "foils": F}
_KIND_OF |= {words: kind for kind, words in KIND_CELLS.items()}
YES, NO = {"yes", "y", "true", "1", "x", "on"}, {"no", "n", "false", "0", "off"}


@dataclass(frozen=True)
class Column:
    """`name` is the item's field. Columns without kinds to be of are read by hand: number, kind, on hand.
    `needed`: by something new, of these kinds. `also`: other headings that mean the same."""

    heading: str
    name: str
    kinds: tuple[str, ...] = ALL
    also: tuple[str, ...] = ()
    needed: tuple[str, ...] = ()
    what: str = field(default="", compare=False)


COLUMNS = [
    Column("Number", "pk", also=("id", "item number"), what="the studio's own; empty for something new"),
    Column("Kind", "kind", also=("type",), what="balloons, sheet, hardware, cylinder or foil"),
    Column("Name", "name", needed=(S, H, C, F), also=("item",), what="balloons are named by what they are"),
    Column("Size in", "nominal_in", (L,), ("size", "size inches"), (L,), "inches, as it is sold"),
    Column("Shape", "shape", (L, F), needed=(F,), what="round, double-ended or long; of a foil any word"),
    Column("Colour", "colour", (L,), ("color",), (L,), "in a word"),
    Column("Finish", "finish", (L,), what="plain, pearl, metallic or clear"),
    Column("On screen", "rgb", (L,), ("rgb", "hex"), (L,), "# and six digits, or a plain colour word"),
    Column("Balloon g", "mass_g", (L,), what="weight of one, grams"),
    Column("Cells wide", "columns", (S,), needed=(S,)),
    Column("Cells high", "rows", (S,), needed=(S,)),
    Column("Lattice", "lattice", (S,), what="square, offset or hex"),
    Column("Pitch mm", "pitch_m", (S,), needed=(S,), what="from cell to cell along a row"),
    Column("Row pitch mm", "row_pitch_m", (S,), what="from row to row, when it differs"),
    Column("Sized to mm", "sized_diameter_m", (S,), needed=(S,), what="diameter of its balloons"),
    Column("Tabs on a side", "tabs_per_side", (S,)),
    Column("Tabs on an end", "tabs_per_end", (S,)),
    Column("Sides join", "sides_join", (S,), what="yes or no"),
    Column("Ends join", "ends_join", (S,), what="yes or no"),
    Column("Meets in part", "edges_meet_in_part", (S,), what="yes or no"),
    Column("Rows start alike", "odd_rows_shift", (S,), what="yes or no"),
    Column("Edge strips", "strips", (S,), what="all, sides, ends or none"),
    Column("May be cut", "can_be_cut", (S,), what="yes or no"),
    Column("Sheet kg", "weight_kg", (S,), what="weight of one"),
    Column("Events it lasts", "uses", (S,), ("uses",)),
    Column("Purpose", "purpose", (H,), what="pole, base, clip, magnet, line, inflator, sizer, bin, ribbon, …"),
    Column("Water volume l", "water_volume_l", (C,), needed=(C,)),
    Column("Pressure bar", "pressure_bar", (C,), needed=(C,)),
    Column("Rented", "rented", (C,), what="yes or no"),
    Column("Rent a week", "rent_per_week", (C,)),
    Column("Height cm", "height_cm", (F,)),
    Column("Gas l", "gas_volume_l", (F,), what="from its packet; empty when filled with air"),
    Column("Lifts g", "lift_g", (F,), what="from its packet"),
    Column("Comes back", "returnable", (S, H, C), what="yes or no"),
    Column("In a pack", "pack_size", needed=(L,), also=("pack size", "pack")),
    Column("Pack price", "pack_price", needed=ALL, also=("price",), what="0 if it costs nothing"),
    Column("Days to deliver", "lead_days", also=("lead days",)),
    Column("Supplier", "supplier"),
    Column("Bin", "bin", also=("place",)),
    Column("Order again below", "reorder_level", also=("reorder level",)),
    Column("In use", "active", what="no: it is no longer offered"),
    Column("On hand", "on_hand", also=("quantity", "stock"), what="opening stock of something new; else only told"),
]
BY_NAME = {column.name: column for column in COLUMNS}
BY_HAND = {"pk", "kind", "on_hand"}
ANY_CAPITALS = {"colour", "shape", "rgb"}


def plain(heading: str) -> str:
    """Headings are alike whatever their capitals, spaces and points.

    >>> plain("Size (in.)") == plain("size_in")
    True
    """
    return re.sub(r"[\W_]+", "", heading.casefold())


_KNOWN = {plain(word): column.name for column in COLUMNS for word in (column.heading, column.name, *column.also)}


def known(heading: str) -> str:
    """The field that a heading means, or nothing."""
    return _KNOWN.get(plain(heading), "")


def is_known(heading: str) -> bool:
    return bool(known(heading))


def kind_of(cell: str) -> str:
    return _KIND_OF.get(" ".join(cell.casefold().split()), "")


class CellWrong(ValueError):
    """What is wrong with a cell, in words."""


class Reader:
    """Cells to values. The same cell comes many times in a column, so each is read once."""

    def __init__(self) -> None:
        metric = Studio(units="metric", currency="EUR")
        self.forms = {kind: form(studio=metric) for kind, form in FORMS.items()}
        self.read: dict[tuple[str, str, str], Any] = {}

    def field(self, kind: str, name: str) -> forms.Field:
        return self.forms[kind].fields[name]

    def may_be_empty(self, kind: str, name: str) -> bool:
        """Whether an empty cell is a wish; where something must stand it leaves what stands there."""
        asked = None if name in _BY_HAND else self.field(kind, name)
        return asked is not None and not asked.required and not isinstance(asked, forms.BooleanField)

    def value(self, kind: str, name: str, cell: str) -> Any:
        """Raises CellWrong."""
        key = (kind, name, cell)
        if key not in self.read:
            try:
                self.read[key] = self._value(kind, name, cell)
            except CellWrong as wrong:
                self.read[key] = wrong
        found = self.read[key]
        if isinstance(found, CellWrong):
            raise found
        return found

    def _value(self, kind: str, name: str, cell: str) -> Any:
        if name in _BY_HAND:
            return _BY_HAND[name](cell)
        asked = self.field(kind, name)
        if isinstance(asked, forms.BooleanField):
            return yes_or_no(cell)
        if isinstance(asked, forms.ChoiceField):
            cell = _choice(asked, cell)
        elif isinstance(asked, forms.IntegerField | forms.FloatField | forms.DecimalField):
            cell = number_cell(cell)
        try:
            value = asked.clean(cell)
            self._bounds(kind, name, value)
        except ValidationError as wrong:
            raise CellWrong(" ".join(_in_our_words(asked, one) for one in wrong.error_list)) from None
        return _tidy(name, value)

    def _bounds(self, kind: str, name: str, value: Any) -> None:
        """What the form asks of the item as a whole, such as the least and the most."""
        kept_in = self.forms[kind].instance._meta.get_field(name)
        if value not in kept_in.empty_values:
            kept_in.run_validators(value)


def _in_our_words(asked: forms.Field, wrong: ValidationError) -> str:
    """As a form says what its item refuses; `str` first would lose how figures are written."""
    words = asked.error_messages.get(wrong.code or "", wrong.message)
    return str(words % wrong.params if wrong.params else words)


def _tidy(name: str, value: Any) -> Any:
    """As the forms keep it."""
    if isinstance(value, str):
        value = " ".join(value.split())
        return value.lower() if name in ANY_CAPITALS else value
    if name == "rent_per_week":
        return value or Decimal(0)
    return value


def _choice(asked: forms.ChoiceField, cell: str) -> str:
    """By what is kept or by what is shown, whatever the capitals."""
    said = cell.casefold()
    choices: list[tuple[Any, Any]] = list(asked.choices)  # type: ignore[arg-type]
    for value, words in choices:
        if said in {str(value).casefold(), str(words).casefold()}:
            return str(value)
    raise CellWrong(f"This must be one of: {', '.join(str(value) for value, _ in choices if value)}.")


def number_cell(cell: str) -> str:
    """A decimal comma becomes a point. Raises CellWrong where a comma can mean both.

    >>> number_cell("0,25"), number_cell(" 6.20 "), number_cell("0,125")
    ('0.25', '6.20', '0.125')
    """
    words = re.sub(r"[\s\u00a0\u202f]", "", cell)
    if "," not in words:
        return words
    if "." in words or words.count(",") > 1 or re.fullmatch(r"-?[1-9]\d{0,2},\d{3}", words):
        raise CellWrong(f"“{cell}” can be read in two ways: write it with a point before the decimals, and no comma.")
    return words.replace(",", ".")


def yes_or_no(cell: str) -> bool:
    said = cell.casefold()
    if said in YES or said in NO:
        return said in YES
    raise CellWrong("Write yes or no.")


def _rgb(cell: str) -> str:
    said = cell.casefold()
    if said in NEAR:
        return NEAR[said]
    if re.fullmatch(r"#[0-9a-f]{6}", said):
        return said
    raise CellWrong("Write the colour as # and six digits, like #7db3d8, or a plain word such as sky.")


def _on_hand(cell: str) -> int | None:
    words = number_cell(cell)
    if not words:
        return None
    if not re.fullmatch(r"-?\d{1,12}(\.0*)?", words):
        raise CellWrong("This must be a whole number.")
    number = int(words.split(".")[0])
    if not 0 <= number <= MOST_PIECES:
        raise CellWrong(f"This must be 0 or more, {MOST_PIECES:,} at most.")
    return number


_BY_HAND: dict[str, Callable[[str], Any]] = {"active": yes_or_no, "rgb": _rgb, "on_hand": _on_hand}


def cell_of(name: str, value: Any) -> str:
    """A value as its cell: points before decimals, lengths in millimetres, yes and no."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name in {"pitch_m", "row_pitch_m", "sized_diameter_m"}:
        return f"{float(value) * 1000:.10g}"
    if name == "kind":
        return KIND_CELLS.get(value, str(value))
    if name in {"pack_price", "rent_per_week"}:
        return f"{Decimal(value):.2f}"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, float):
        return f"{value:.10g}"
    return str(value)


def same(name: str, old: Any, new: Any) -> bool:
    if isinstance(old, float) and isinstance(new, float):
        return math.isclose(old, new, rel_tol=1e-9)
    if isinstance(old, str) and isinstance(new, str):
        old = " ".join(old.split())
        return bool(old.casefold() == new.casefold() if name in ANY_CAPITALS else old == new)
    return bool(old == new)


def kept(value: Any) -> Any:
    """As it goes into JSON and from there into its field again."""
    return str(value) if isinstance(value, Decimal) else value


def fields_of(kind: str) -> list[str]:
    return [column.name for column in COLUMNS if kind in column.kinds and column.name not in BY_HAND]


def row_cells(values: Mapping[str, Any], kind: str) -> list[str]:
    """One row of the file out of an item's values; what its kind does not have stays empty."""
    return [cell_of(column.name, values.get(column.name)) if kind in column.kinds else "" for column in COLUMNS]
