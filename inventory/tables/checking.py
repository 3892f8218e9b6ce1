"""The dry run: what each row of a file would do to the stock as it is."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from decor.calc.picture.lattice import MOST_CELLS
from inventory.foils import lift_doubt
from inventory.forms import LASTS_SO_COMES_BACK, LIFT_NEEDS_GAS, OWN_HAS_NO_RENT
from inventory.models import Foil, ImportRow, Item
from inventory.stocking import latex_name
from inventory.swatches import NEAR
from inventory.tables.columns import BY_HAND, BY_NAME, KIND_CELLS, CellWrong, Reader, kept, kind_of, same
from inventory.tables.files import LOST, Line
from inventory.tables.known import MODELS, Known, Values, identity, promised

USED_UP = {"ribbon", "line"}
FREE_UNDER_PROMISE = ("returnable", "active")
_NAME_OF_BALLOONS = "Balloons are named by their size, shape, finish and colour: change those."
_NEEDED = {"pack_price": "It is new, so it needs a price: 0 if it costs nothing."}
State = ImportRow.State


@dataclass
class Row:
    """`values` of something new, by field; `changes` of what is there: field -> [as it is, as it would be]. `called` is
    how to name a row in error that has no name."""

    number: int
    kind: str = ""
    item: int | None = None
    name: str = ""
    called: str = ""
    values: Values = field(default_factory=dict)
    changes: dict[str, list[Any]] = field(default_factory=dict)
    errors: list[list[str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    opening: int = 0

    @property
    def state(self) -> str:
        if self.errors:
            return State.WRONG
        if self.item is None:
            return State.NEW
        return State.CHANGED if self.changes else State.SAME

    def wrong(self, name: str, words: str) -> None:
        heading = BY_NAME[name].heading if name else ""
        self.errors.append([heading, words])

    def data(self) -> dict[str, Any]:
        """As it is kept: only what there is."""
        changes = {name: [kept(old), kept(new)] for name, (old, new) in self.changes.items()}
        values = {} if self.errors else {name: kept(value) for name, value in self.values.items()}
        found = {"values": values, "changes": changes, "errors": self.errors, "notes": self.notes}
        return {key: value for key, value in (found | {"opening": self.opening}).items() if value}


class Checker:
    """Reads rows one by one, then what only all of them together tell."""

    def __init__(self, columns: Sequence[str], all_kind: str, known: Known) -> None:
        self.columns, self.all_kind, self.known = columns, all_kind, known
        self.reader = Reader()
        self.defaults = {kind: _defaults(kind) for kind in MODELS}

    def row(self, line: Line) -> Row:
        row = Row(line.number)
        if any(line.cells[len(self.columns) :]):
            row.wrong("", f"This row has {len(line.cells)} cells and the headings are {len(self.columns)}.")
            return row
        if len(line.cells) < len(self.columns):
            row.wrong("", f"This row breaks off: {len(line.cells)} cells, the headings are {len(self.columns)}.")
            return row
        cells = {name: cell for name, cell in zip(self.columns, line.cells, strict=False) if name}
        row.name = cells.get("name", "")[:80]
        row.called = f"{cells['nominal_in']} in {cells['colour']}"[:80] if _is_balloon(cells) else ""
        for name, cell in cells.items():
            if LOST in cell:
                row.wrong(name, f"“{cell[:40]}” has letters that can't be read. Write it anew and save it as UTF-8.")
        if row.errors:
            return row
        self._whose(row, cells)
        if row.kind and not row.errors:
            self._values(row, cells)
        return row

    def _whose(self, row: Row, cells: dict[str, str]) -> None:
        """Which item it is, or of what kind the new one is."""
        said = cells.get("kind", "")
        kind = kind_of(said) if said else self.all_kind
        if said and not kind:
            row.wrong("kind", f"This must be one of: {', '.join(KIND_CELLS.values())}.")
            return
        row.item = self._numbered(row, cells["pk"]) if cells.get("pk") else self._found(kind, cells)
        if row.errors:
            return
        if row.item is None:
            row.kind = kind or (Item.Kind.LATEX if _is_balloon(cells) else "")
            if not row.kind:
                row.wrong("kind" if "kind" in cells else "", _what_kinds())
            return
        there = self.known.items[row.item]
        row.kind, row.name = there["kind"], there["name"]
        if kind and kind != row.kind:
            row.wrong("kind", f"{there['name']} is {_a(row.kind)} here, and what something is can't change.")

    def _numbered(self, row: Row, cell: str) -> int | None:
        number = int(cell) if cell.isascii() and cell.isdigit() and len(cell) < 19 else 0
        if number in self.known.items:
            return number
        row.wrong("pk", f"There is no item {cell[:20]} here. Leave it empty for something new.")
        return None

    def _found(self, kind: str, cells: dict[str, str]) -> int | None:
        if kind in ("", Item.Kind.LATEX) and _is_balloon(cells):
            try:
                said = {name: cells.get(name) or _USUAL.get(name, "") for name in _IDENTITY}
                values = {name: self._read(Item.Kind.LATEX, name, cell) for name, cell in said.items()}
            except CellWrong:
                return None
            return self.known.by_identity.get(identity(values))
        return self.known.by_name.get(" ".join(cells.get("name", "").split()).casefold())

    def _read(self, kind: str, name: str, cell: str) -> Any:
        value = self.reader.value(kind, name, cell)
        if name in ("supplier", "bin"):
            known = self.known.suppliers if name == "supplier" else self.known.bins
            return known.get(value) or known.get(value.casefold()) or value
        return value

    def _values(self, row: Row, cells: dict[str, str]) -> None:
        given: Values = {}
        for name, cell in cells.items():
            if name in BY_HAND or (name == "name" and row.kind == Item.Kind.LATEX):
                continue
            if row.kind not in BY_NAME[name].kinds:
                if cell:
                    row.wrong(name, f"{_a(row.kind).capitalize()} has none of this: leave it empty.")
            elif cell or (row.item is not None and self.reader.may_be_empty(row.kind, name)):
                self._value(row, name, cell, given)
        self._opening(row, cells)
        if row.item is None:
            self._new(row, given)
        else:
            self._changed(row, cells, given)

    def _value(self, row: Row, name: str, cell: str, given: Values) -> None:
        try:
            given[name] = self._read(row.kind, name, cell)
        except CellWrong as wrong:
            row.wrong(name, str(wrong))

    def _opening(self, row: Row, cells: dict[str, str]) -> None:
        if not cells.get("on_hand"):
            return
        try:
            told = self.reader.value(row.kind, "on_hand", cells["on_hand"]) or 0
        except CellWrong as wrong:
            row.wrong("on_hand", str(wrong))
            return
        if row.item is None:
            row.opening = told
        elif told != (here := self.known.on_hand.get(row.item, 0)):
            row.notes.append(f"{here:,} stay on hand, whatever the file says ({told:,}): count it to change that.")

    def _new(self, row: Row, given: Values) -> None:
        if row.kind == Item.Kind.LATEX and "rgb" not in given and given.get("colour") in NEAR:
            given["rgb"] = NEAR[given["colour"]]
        bad = {heading for heading, _ in row.errors}
        for column in BY_NAME.values():
            missing = row.kind in column.needed and given.get(column.name) in (None, "")
            if missing and column.heading not in bad:
                row.wrong(column.name, _NEEDED.get(column.name, "It is new, so this must be filled in."))
        row.values = {**self.defaults[row.kind], **_comes_back(row.kind, given), **given}
        self._settle(row, row.values)
        if row.kind == Item.Kind.LATEX and not row.errors:
            row.values["name"] = latex_name(**{name: row.values[name] for name in _IDENTITY})
        row.name = row.values.get("name") or row.name

    def _changed(self, row: Row, cells: dict[str, str], given: Values) -> None:
        there = self.known.items[row.item or 0]
        row.changes = {name: [there[name], new] for name, new in given.items() if not same(name, there[name], new)}
        if row.kind == Item.Kind.LATEX:
            self._renamed(row, cells, there)
        self._settle(row, {**there, **given})

    def _renamed(self, row: Row, cells: dict[str, str], there: Values) -> None:
        name = there["name"]
        if set(row.changes) & set(_IDENTITY):
            now = {field: row.changes[field][1] if field in row.changes else there[field] for field in _IDENTITY}
            name = latex_name(**now)
            if name != there["name"]:
                row.changes["name"] = [there["name"], name]
        told = " ".join(cells.get("name", "").split()).casefold()
        if told not in {"", name.casefold(), there["name"].casefold()}:
            row.wrong("name", _NAME_OF_BALLOONS)

    def _settle(self, row: Row, values: Values) -> None:
        """What only several cells together tell."""
        if row.errors:
            return
        if row.kind == Item.Kind.SHEET:
            cells = values["rows"] * values["columns"]
            if cells > MOST_CELLS:
                row.wrong("columns", f"That would be {cells:,} cells; a sheet has {MOST_CELLS:,} at most.")
            if values["uses"] > 1 and not values["returnable"]:
                row.wrong("returnable", LASTS_SO_COMES_BACK.replace("tick this", "write yes"))
        if row.kind == Item.Kind.CYLINDER and values["rent_per_week"] and not values["rented"]:
            row.wrong("rent_per_week", OWN_HAS_NO_RENT)
        if row.kind == Item.Kind.FOIL:
            if values["lift_g"] and not values["gas_volume_l"]:
                row.wrong("gas_volume_l", LIFT_NEEDS_GAS)
            if doubt := lift_doubt(Foil(gas_volume_l=values["gas_volume_l"], lift_g=values["lift_g"])):
                row.notes.append(doubt)

    def together(self, rows: list[Row], now: datetime) -> None:
        """Rows of the same item, names that two would have, and promises that a change would break."""
        _twice(rows)
        self._alike(rows)
        freed = {row.item for row in rows if any(name in row.changes for name in FREE_UNDER_PROMISE)}
        held = promised([item for item in freed if item is not None], now)
        for row in rows:
            for name in FREE_UNDER_PROMISE:
                if row.item in held and name in row.changes and not (name == "active" and row.changes[name][1]):
                    row.wrong(name, "It is promised, so this can't change now.")

    def _alike(self, rows: Iterable[Row]) -> None:
        names = {pk: values["name"].casefold() for pk, values in self.known.items.items()}
        of_balloons = {pk: key for key, pk in self.known.by_identity.items()}
        for row in rows:
            if row.item is not None and "name" in row.changes:
                names[row.item] = row.changes["name"][1].casefold()
                if row.item in of_balloons:
                    of_balloons[row.item] = identity(_as_changed(self.known.items[row.item], row))
        owners: dict[Any, set[int | None]] = defaultdict(set)
        for pk, key in [*names.items(), *of_balloons.items()]:
            owners[key].add(pk)
        for row in rows:
            values = row.values if row.item is None else _as_changed(self.known.items[row.item], row)
            if row.errors or (row.item is not None and "name" not in row.changes):
                continue
            keys = [values["name"].casefold()]
            keys += [identity(values)] if row.kind == Item.Kind.LATEX else []
            if any(owners.get(key, set()) - {row.item} for key in keys):
                column = "colour" if row.kind == Item.Kind.LATEX else "name"
                row.wrong(column, f"There is already an item “{values['name']}”.")


def _is_balloon(cells: Values) -> bool:
    """Nothing else has a size in inches and a colour."""
    return bool(cells.get("nominal_in") and cells.get("colour"))


def _as_changed(there: Values, row: Row) -> Values:
    return {**there, **{name: new for name, (_, new) in row.changes.items()}}


def _twice(rows: Iterable[Row]) -> None:
    first: dict[Any, int] = {}
    for row in rows:
        key = row.item if row.item is not None else (row.name.casefold() or None)
        if key is None:
            continue
        if key in first:
            row.wrong("", f"This is the same item as in line {first[key]:,}. Leave one of them.")
        first.setdefault(key, row.number)


def _defaults(kind: str) -> Values:
    fresh = MODELS[kind]()
    return {name: getattr(fresh, name) for name in BY_NAME if name not in BY_HAND and kind in BY_NAME[name].kinds} | {
        "name": ""
    }


def _comes_back(kind: str, given: Values) -> Values:
    """As the form of something new proposes it."""
    if kind == Item.Kind.SHEET:
        return {"returnable": (given.get("uses") or 1) > 1}
    if kind == Item.Kind.HARDWARE:
        return {"returnable": given.get("purpose") not in USED_UP}
    return {"returnable": True} if kind == Item.Kind.CYLINDER else {}


def _what_kinds() -> str:
    return f"This is new here: say in the column Kind whether it is {', '.join(KIND_CELLS.values())}."


def _a(kind: str) -> str:
    return {"latex": "a balloon", "sheet": "a sheet", "hardware": "hardware", "foil": "a foil shape"}.get(
        kind, "a cylinder"
    )


_IDENTITY = ("nominal_in", "shape", "colour", "finish")
_USUAL = {"shape": "round", "finish": "plain"}
Progress = Callable[[float, str], None]


def checked(
    lines: list[Line], columns: Sequence[str], all_kind: str, known: Known, now: datetime, progress: Progress
) -> list[Row]:
    """Every row of the file, told against the stock; `lines` without the headings."""
    checker, rows = Checker(columns, all_kind, known), []
    step = max(500, len(lines) // 50)
    for at, line in enumerate(lines):
        if at % step == 0:
            progress(0.9 * at / len(lines), f"{at:,} of {len(lines):,} rows are looked at")
        rows.append(checker.row(line))
    progress(0.9, "Comparing the rows with each other")
    checker.together(rows, now)
    return rows
