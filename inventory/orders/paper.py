"""An order on paper and as a table, for the supplier or, with what each pack is for, for the studio's own file."""

from collections.abc import Iterable
from typing import Any
from urllib.parse import quote

from decor.studio.documents import pdf_of
from decor.studio.models import Studio
from decor.studio.templatetags.desk import day_words, money_words
from inventory.models import Order, OrderLine, Supplier
from inventory.ordering import total_of
from inventory.orders.shown import kept_for
from inventory.shown import capital
from inventory.tables.writing import MARK, line_of

COLUMNS = ["Order", "Line", "What", "Packs", "Pieces in a pack", "Pieces", "Price of a pack", "Price", "Currency"]


def supplier_row(order: Order) -> Supplier | None:
    name = order.supplier.strip()
    return Supplier.objects.filter(name__iexact=name).first() if name else None


def lines_of(order: Order) -> list[OrderLine]:
    return list(order.lines.select_related("item", "item__latex").order_by("pk"))


def order_pdf(order: Order, studio: Studio, *, internal: bool = False) -> bytes:
    """Raises ValueError with the line that installs what is missing."""
    lines = lines_of(order)
    context: dict[str, Any] = {
        "order": order,
        "studio": studio,
        "supplier": supplier_row(order),
        "lines": [
            {
                "line": line,
                "name": capital(line.item.name),
                "price": money_words(line.pack_price, studio.currency),
                "cost": money_words(line.cost, studio.currency),
                "whats": kept_for(line) if internal else [],
            }
            for line in lines
        ],
        "pieces": sum(line.quantity for line in lines),
        "packs": sum(line.packs for line in lines),
        "total": money_words(total_of(lines), studio.currency),
        "on": day_words(order.sent or order.created, year=True),
        "due": day_words(order.due_on, year=True) if order.due_on else "",  # type: ignore[arg-type]
        "internal": internal,
    }
    return pdf_of("documents/order.html", context, paper=studio.paper)


def order_csv(order: Order, studio: Studio) -> str:
    rows = [MARK + line_of(COLUMNS)]
    for number, line in enumerate(lines_of(order), 1):
        cells = [order.number, number, capital(line.item.name), line.packs, line.pack_size, line.quantity]
        rows.append(line_of([*map(str, cells), f"{line.pack_price:.2f}", f"{line.cost:.2f}", studio.currency]))
    return "".join(rows)


def letter_subject(order: Order, studio: Studio) -> str:
    return f"Order {order.number} from {studio.name}"


def letter(order: Order, lines: Iterable[OrderLine], studio: Studio, supplier: Supplier | None) -> str:
    """What the e-mail says, all of the order in it, for whoever can't open the paper."""
    lines = list(lines)
    told = ["Hello,", "", f"please send us our order {order.number}:", ""]
    for line in lines:
        packs = f"{line.packs:,} × pack of {line.pack_size:,}" if line.pack_size > 1 else f"{line.packs:,} ×"
        told.append(f"{packs} {capital(line.item.name)}, {money_words(line.cost, studio.currency)}")
    told += ["", f"In all {money_words(total_of(lines), studio.currency)}."]
    if order.due_on:
        told.append(f"We count on it by {day_words(order.due_on, year=True)}.")  # type: ignore[arg-type]
    if supplier and supplier.our_number:
        told.append(f"Our customer number with you: {supplier.our_number}.")
    if order.note:
        told += ["", order.note]
    address = ", ".join(studio.address.split("\n")) if studio.address else ""
    told += ["", *filter(None, [studio.name, address, studio.phone, studio.email])]
    return "\n".join(told)


def mailto(order: Order, lines: Iterable[OrderLine], studio: Studio, supplier: Supplier | None) -> str:
    """Opens the person's own mail program with the order in it; empty without an address."""
    if supplier is None or not supplier.email:
        return ""
    words = letter(order, lines, studio, supplier).replace("\n", "\r\n")
    return (
        f"mailto:{quote(supplier.email, safe='@')}?subject={quote(letter_subject(order, studio))}&body={quote(words)}"
    )
