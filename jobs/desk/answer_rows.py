"""What a quick answer stands on, row by row: what · how it stands · state."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from decor.studio.templatetags.desk import day_words, money_words, plural
from inventory.availability import free_detail
from inventory.expecting import on_order_words
from jobs.crew.capacity import Staffing
from jobs.desk.stock import order_words, short_words
from jobs.desk.workday import Workday, called
from jobs.estimates.needs import StockLine, StockSpan
from jobs.estimates.shown import hours_words
from jobs.events.rows import Row

IF_IT_ARRIVES = ("wait", "If it arrives")
FREE, NAMES = "Free", {"latex": "Balloons", "sheet": "Sheets", "hardware": "Hardware", "cylinder": "Helium"}


def stock_rows(
    lines: Sequence[StockLine], shelf: StockSpan, *, currency: str, check: str = "", instead: str = ""
) -> list[Row]:
    """`check` is where the same list is checked, with what would close its gaps; `instead` tells why these sheets."""
    sheets = [line for line in lines if line.need.what == "sheet"]
    latex = [line for line in lines if line.need.what == "latex"]
    others = [line for line in lines if line.need.what in {"hardware", "cylinder"}]
    rows = [
        *_sheet_rows(sheets, shelf, currency, instead),
        *_latex_rows(latex, currency),
        *(_other_row(line, currency) for line in others),
    ]
    return [replace(row, url=check) for row in rows]


def _sheet_rows(lines: Sequence[StockLine], shelf: StockSpan, currency: str, instead: str) -> Iterable[Row]:
    ids = [line.need.item_id for line in lines if line.need.item_id]
    details = free_detail(ids, shelf.starts, shelf.ends) if ids else {}
    for line in lines:
        detail = details.get(line.need.item_id or 0)
        of = f"of {detail.on_hand}" if detail else ""
        out = f"; {detail.reserved} are out then" if detail and detail.reserved else ""
        small = "; ".join(filter(None, [f"{of} {line.need.label}{out}".strip(), line.on_order_words, instead]))
        yield _row(line, f"{line.need.quantity:,} needed, {line.free:,} free", _buy(line, currency) or small)


def _latex_rows(lines: Sequence[StockLine], currency: str) -> Iterable[Row]:
    """Each size in total; a colour by itself only where the caller named it and it is short."""
    for size in dict.fromkeys(line.need.size for line in lines):
        group = [line for line in lines if line.need.size == size]
        short = [line for line in group if line.short]
        for line in short:
            why = "you named it; " if line.need.named else ""
            yield _row(line, f"{short_words(line)} short", f"{why}{_buy(line, currency)}")
        whole = [line for line in group if not line.short]
        if whole:
            yield _size_row(size, whole)


def colour_rows(no_balloon: Sequence[str]) -> list[Row]:
    small = "the studio buys none in the size and shape it needs; counted as still open"
    return [Row("Balloons", f"No {colour}", small, "warn", "Missing") for colour in no_balloon]


def _size_row(size: str, lines: Sequence[StockLine]) -> Row:
    needed = sum(line.need.quantity for line in lines)
    named = [line for line in lines if line.need.named]
    colours = ", ".join(line.need.label for line in named)
    if len(named) < len(lines):
        small = f"{size}, colours still open" if not named else f"{size}; {colours}, the others still open"
        free = max(line.free for line in lines if not line.need.named)
        stands = f"{needed:,} needed, {free:,} free"
    else:
        small, stands = f"{size}; {colours}", f"{needed:,} needed, all free"
    waiting = [(line.if_it_arrives, line.due) for line in lines if line.if_it_arrives and line.due]
    if waiting:
        words = on_order_words(sum(n for n, _ in waiting), max(due for _, due in waiting))
        return Row("Balloons", stands, f"{small}; {words}", *IF_IT_ARRIVES)
    return Row("Balloons", stands, small, "ok", FREE)


def _other_row(line: StockLine, currency: str) -> Row:
    what = "Helium" if line.need.what == "cylinder" else f"{line.need.label.capitalize()}s"
    stands = f"{line.need.quantity:,} needed, {line.free:,} free"
    return _row(line, stands, _buy(line, currency) or line.on_order_words, what)


def _buy(line: StockLine, currency: str) -> str:
    """1 pack of 100, €6.20, by Thu 4 June"""
    if not line.short:
        return ""
    if line.order_by is None:
        return "none in stock yet"
    size = f" of {line.pack_size}" if line.pack_size > 1 else ""
    what = f"{plural(line.packs, 'pack,packs')}{size}" if line.need.what == "latex" else order_words(line)
    when = f"too late: by {day_words(line.order_by)}" if line.late else f"by {day_words(line.order_by)}"
    return f"{what}, {money_words(line.cost, currency)}, {when}"


def _row(line: StockLine, stands: str, small: str, what: str = "") -> Row:
    what = what or NAMES[line.need.what]
    if line.state == "ok" and line.if_it_arrives:
        return Row(what, stands, small, *IF_IT_ARRIVES)
    words = {"ok": FREE, "warn": "Short", "no": "Late" if line.order_by else "Missing"}[line.state]
    return Row(what, stands, small, line.state, words)


def hours_row(result: dict[str, Any], crew: Sequence[Staffing], work: Workday) -> Row:
    """The people of the worst of the workday's spans."""
    worst = min(crew, key=lambda staff: (staff.fits, staff.free))
    small = f"{plural(work.people, 'person,people')} at it; {worst.says}"
    if worst.fits:
        return Row("Hours", hours_words(result), small, "ok", FREE)
    word = f"No {called(worst.missing)}" if worst.missing else "Too few"
    return Row("Hours", hours_words(result), small, "no", word)


def van_row(result: dict[str, Any], vans: int, work: Workday) -> Row:
    van = result["van"]
    stands = f"{plural(van['trips'], 'trip,trips')}, {_full(van['fraction'])}"
    small = _built(result)
    if not work.vans:
        return Row("Van", "Nothing to drive", small, "ok", FREE)
    if vans < work.vans:
        return Row("Van", stands, f"{small}; no van is free then", "no", "None free")
    return Row("Van", stands, f"{small}; {plural(vans, 'van,vans')} free", "ok", FREE)


def _full(fraction: float) -> str:
    """As it is said: half full, two-thirds full, else per cent to the nearest five."""
    said = {0.25: "a quarter full", 1 / 3: "a third full", 0.5: "half full", 2 / 3: "two-thirds full"}
    said |= {0.75: "three-quarters full", 1.0: "full"}
    near = min(said, key=lambda part: abs(part - fraction))
    if abs(near - fraction) <= 0.04:
        return said[near]
    return f"{max(5, round(fraction * 20) * 5)} % full"


def _built(result: dict[str, Any]) -> str:
    """built in the workshop, in 2 parts: a panel's sections and the columns"""
    places = {piece["built_at"] for piece in result["pieces"]}
    if places == {"venue"}:
        return "built at the venue"
    sections = sum(piece["sections"] * piece["count"] for piece in result["pieces"] if piece["built_at"] == "workshop")
    where = "built in the workshop" if places == {"workshop"} else "some built in the workshop"
    return f"{where}, in {plural(sections, 'part,parts')}"
