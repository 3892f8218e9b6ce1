"""Making a panel's build book: asked for by a person, made by the worker, kept with the piece."""

import hashlib
import json
from collections.abc import Callable, Iterable

from django.db import transaction
from django.utils import timezone

from decor.calc.picture.lattice import Lattice
from decor.calc.units import m_to_feet
from decor.calc.work.cautions import CAUTIONS, cautions_for
from decor.calc.work.conditions import Conditions
from decor.calc.work.rates import rates_from_plain
from decor.studio.background import Progress, job_request
from decor.studio.documents import pdf_of
from decor.studio.models import Studio
from decor.studio.services import bytes_keep, file_row
from decor.studio.templatetags.desk import day_words
from inventory.turnover import known_burst
from jobs.designs.book_pages import Book, book_of, pictures_of
from jobs.designs.catalogue import Catalogue, LatexItem, catalogue_now
from jobs.designs.charting import chart_of, palette_of
from jobs.designs.kinds.panel import panel_sections
from jobs.designs.models import BuildBook, Panel, Piece
from jobs.designs.sheets.plans import planned
from jobs.designs.sheets.words import sections_of
from jobs.designs.tying import wishes_of
from jobs.events.models import Event

LAYOUT = 8
"""Raised whenever the same panel would print otherwise, so that books are made anew."""


def book_key(panel: Panel, *, studio: Studio, catalogue: Catalogue) -> str:
    """The same panel, sheet, words and paper make the same book."""
    sheet = catalogue.sheet(panel.sheet_id)
    event, palette = panel.piece.event, palette_of(panel, catalogue)
    given = [
        LAYOUT,
        studio.paper,
        studio.units,
        studio.rates,
        studio.name,
        panel.piece.title,
        panel.piece.count,
        panel.piece.built_at,
        event.title,
        event.doors.isoformat(),
        event.venue.name,
        panel.loading,
        wishes_of(panel.piece).to_plain(),
        hashlib.sha256(bytes(panel.cells)).hexdigest(),
        repr(sheet),
        repr(planned(panel, catalogue)) if sheet else "",
        [repr(item) for item in palette],
        sorted(_burst(palette, studio).items()),
    ]
    return hashlib.sha256(json.dumps(given).encode()).hexdigest()


def _burst(palette: Iterable[LatexItem | None], studio: Studio) -> dict[int, float]:
    """Of the panel's own balloons: what burst of others must not make its book an older one."""
    known = known_burst(now=timezone.now(), spares_share=rates_from_plain(studio.rates).spares_share)
    return {item.id: known[item.id] for item in palette if item is not None and item.id in known}


def book_current(piece: Piece, *, studio: Studio, catalogue: Catalogue) -> BuildBook | None:
    key = book_key(piece.panel, studio=studio, catalogue=catalogue)
    return BuildBook.objects.filter(piece=piece, input_key=key).select_related("job", "file").first()


def books_ready(event: Event, *, studio: Studio) -> list[Piece]:
    """The event's panels whose build book is made and still true."""
    panels = list(Piece.objects.filter(event=event, panel__isnull=False).select_related("event__venue", "panel"))
    if not panels:
        return []
    catalogue = catalogue_now(studio)
    keys = {book_key(piece.panel, studio=studio, catalogue=catalogue): piece for piece in panels}
    books = BuildBook.objects.filter(input_key__in=keys, file__isnull=False)
    made = set(books.values_list("input_key", flat=True))
    return [piece for key, piece in keys.items() if key in made]


MOST_CELLS = 40_000
"""A minute's work and 420 MB of memory, measured with a photograph of 200 × 200 cells."""


def why_no_book(panel: Panel) -> str:
    cells = panel.rows * panel.columns
    if cells <= MOST_CELLS:
        return ""
    return f"A build book is made for up to {MOST_CELLS:,} cells; this panel has {cells:,}. Make it of smaller panels."


@transaction.atomic
def book_request(*, piece: Piece, studio: Studio) -> BuildBook:
    """Raises ValueError in words for people where the panel is too large."""
    if refusal := why_no_book(piece.panel):
        raise ValueError(refusal)
    key = book_key(piece.panel, studio=studio, catalogue=catalogue_now())
    book, _ = BuildBook.objects.get_or_create(piece=piece, input_key=key)
    if book.file_id is None:
        book.job = job_request(kind="build book", subject_id=book.pk, input_key=key)
        book.save(update_fields=["job"])
    return book


def book_make(book_id: int, progress: Progress) -> Callable[[], None]:
    book = BuildBook.objects.select_related("piece__event__venue", "piece__panel").get(pk=book_id)
    progress(0.1, "Drawing the charts")
    data = book_pdf(book.piece, studio=Studio.objects.earliest("pk"), catalogue=catalogue_now(), progress=progress)
    progress(0.95, "Keeping the file")

    # The bytes now, outside the transaction: a write lock must not wait for a disk.
    kept = bytes_keep(data=data, mime="application/pdf")

    def write() -> None:
        book.file = file_row(kept=kept, original_name=f"{book.piece.title}, build book.pdf")
        book.save(update_fields=["file"])

    return write


def _size(lattice: Lattice, units: str) -> str:
    """To the centimetre: whoever hangs it measures."""
    if units == "imperial":
        return f"{m_to_feet(lattice.width_m):.1f} × {m_to_feet(lattice.height_m):.1f} ft"
    return f"{lattice.width_m:.2f} × {lattice.height_m:.2f} m"


def book_of_piece(piece: Piece, *, studio: Studio, catalogue: Catalogue) -> Book:
    """Raises ValueError in words for people."""
    panel, sheet = piece.panel, catalogue.sheet(piece.panel.sheet_id)
    if sheet is None:
        raise ValueError("the panel's sheet type is no longer in stock; choose another one for the panel first")
    rates, found = rates_from_plain(studio.rates), planned(panel, catalogue)
    return book_of(
        chart_of(panel, sheet),
        palette_of(panel, catalogue),
        sheet,
        found.plan,
        way=panel.loading,
        spare_share=rates.spares_share,
        sections=panel_sections(piece, catalogue),
        wishes=wishes_of(piece),
        string_balloons=int(rates.string_balloons),
        assembly=sections_of(found, catalogue, rates.opening_strips_per_sheet),
        burst=_burst(palette_of(panel, catalogue), studio),
    )


def book_pdf(
    piece: Piece, *, studio: Studio, catalogue: Catalogue, progress: Progress = lambda share, says: None
) -> bytes:
    book = book_of_piece(piece, studio=studio, catalogue=catalogue)
    pictures = pictures_of(book, lambda share: progress(0.1 + 0.4 * share, "Drawing the charts"))
    progress(0.5, "Setting the pages")
    keys = cautions_for((), Conditions(indoors=piece.event.venue.indoors))
    context = {
        "book": book,
        "piece": piece,
        "event": piece.event,
        "studio": studio,
        "size": _size(book.chart.lattice, studio.units),
        "on": day_words(piece.event.doors.astimezone(piece.event.zone), year=True),
        "cautions": [CAUTIONS[key] for key in keys],
    }
    return pdf_of("documents/build_book.html", context, paper=studio.paper, pictures=pictures)
