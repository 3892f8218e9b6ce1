"""Every address of the program, filled from whatever studio stands in the database; and the demo studio to walk."""

import io
from datetime import datetime, timedelta

from django.core.management import call_command
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone
from PIL import Image, ImageDraw

from decor.studio.models import BackgroundJob, Heartbeat, Role, SignIn, User
from decor.studio.pictures import read_picture
from decor.studio.services import file_store
from inventory import ordering
from inventory.models import Bin, ColourPhoto, Item, Latex, Lot, Order, Reservation, StockImport, Supplier
from inventory.photos import photo_add
from inventory.services import reservation_hold
from inventory.tables import services as lists
from jobs import models as jobs
from jobs.designs.catalogue import catalogue_now
from jobs.designs.kept.services import panel_keep
from jobs.designs.services import pieces_from_rough
from jobs.events.services import event_add
from jobs.events.times import Span
from jobs.proofs.models import ProofPicture
from jobs.proofs.services import link_token


def addresses(resolver=None, prefix: str = "") -> list[tuple[str, URLPattern]]:
    found = []
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            space = f"{entry.namespace}:" if entry.namespace else ""
            found += addresses(entry, prefix + space)
        elif isinstance(entry, URLPattern):
            found.append((prefix + (entry.name or ""), entry))
    return found


ADDRESSES = addresses()
NO_EVENT = "Window for the baker"
"""A hold that no event tells of."""


def the_event() -> jobs.Event:
    """One of which every page has something to show."""
    pictured = {"proof__pictures__isnull": False, "proof__answer__isnull": False, "prooflink__isnull": False}
    return jobs.Event.objects.filter(shift__isnull=False, piece__panel__isnull=False, **pictured).order_by("pk").first()


def the_link() -> jobs.ProofLink:
    return jobs.ProofLink.objects.filter(event=the_event()).first()


def arguments(name: str, pattern: URLPattern) -> dict[str, object]:
    known = {
        "event": lambda: the_event().pk,
        "piece": lambda: jobs.Piece.objects.filter(event=the_event(), panel__isnull=False).first().pk,
        "client": lambda: jobs.Client.objects.first().pk,
        "venue": lambda: jobs.Venue.objects.first().pk,
        "item": lambda: Item.objects.filter(kind="latex" if "photo" in name else "sheet").first().pk,
        "photo": lambda: ColourPhoto.objects.first().pk,
        "reservation": lambda: (
            (
                Reservation.objects.get(label=NO_EVENT)
                if name.startswith("inventory:promise")
                else Reservation.objects.filter(state="confirmed", begun=True).first()
            ).pk
        ),
        "lot": lambda: Lot.objects.first().pk,
        "bin": lambda: Bin.objects.first().pk,
        "supplier": lambda: Supplier.objects.first().pk,
        "batch": lambda: StockImport.objects.first().pk,
        "order": lambda: Order.objects.filter(state="draft" if name.endswith("-send") else "sent").first().pk,
        "kind": lambda: "png" if name == "jobs:panel-picture" else "sheet",
        "proof": lambda: jobs.Proof.objects.filter(event=the_event()).first().pk,
        "link": lambda: the_link().pk,
        "shift": lambda: jobs.Shift.objects.first().pk,
        "member": lambda: jobs.Member.objects.first().pk,
        "absence": lambda: jobs.Absence.objects.first().pk,
        "estimate": lambda: jobs.Estimate.objects.first().pk,
        "draft": lambda: jobs.BookingDraft.objects.get(purpose="ask" if name.startswith("jobs:ask") else "book").pk,
        "token": lambda: link_token(the_link()),
        "file": lambda: ProofPicture.objects.filter(proof__event=the_event()).first().file_id,
        "user": lambda: User.objects.first().pk,
        "sign_in": lambda: SignIn.objects.first().pk,
        "kept": lambda: jobs.KeptPanel.objects.first().pk,
        "paper": lambda: jobs.ChartPaper.objects.first().pk,
        "job": lambda: BackgroundJob.objects.first().pk,
        "index": lambda: 0,
        "number": lambda: 1,
        "action": lambda: "approve",
        "step": lambda: "who",
    }
    return {given: known[given]() for given in pattern.pattern.converters}


def address(name: str, pattern: URLPattern) -> str:
    return reverse(name, kwargs=arguments(name, pattern))


def told() -> dict[str, object]:
    """What a caller says, down to the pieces: a panel and two sorts of columns in six weeks."""
    client, venue = jobs.Client.objects.first(), jobs.Venue.objects.first()
    day = (timezone.localdate() + timedelta(weeks=6)).isoformat()
    panel = {"rough": True, "width": 3, "height": 2.5, "unit": "m", "loading": "paired", "colours": ["sky"]}
    column = {"rough": True, "height": 1.8, "unit": "m", "balloons": 4, "pattern": "spiral", "colours": ["white"]}
    tall = {**column, "height": 2.4, "colours": []}
    usual = {"built_at": "workshop", "fill": "air"}
    return {
        "client": {"id": client.pk},
        "venue": {"id": venue.pk},
        "when": {"date": day, "load_in": "14:00", "doors": "18:00", "ends": "23:00", "strike": "23:30"},
        "what": [
            {"key": "a", "kind": "panel", "title": "Lighthouse", "count": 1, "measures": panel, **usual},
            {"key": "b", "kind": "column", "title": "Columns", "count": 2, "measures": column, **usual},
            {"key": "c", "kind": "column", "title": "Tall columns", "count": 4, "measures": tall, **usual},
        ],
        "title": "Harbour supper",
    }


def event_of_three_pieces(now: datetime, number: int) -> jobs.Event:
    """Another one for each number, with nothing worked out yet."""
    doors = now + timedelta(days=40 + number)
    span = Span(doors - timedelta(hours=4), doors, doors + timedelta(hours=5), doors + timedelta(hours=6))
    event = event_add(title="Supper", client=jobs.Client.objects.first(), venue=jobs.Venue.objects.first(), span=span)
    pieces = [{name: value for name, value in piece.items() if name != "key"} for piece in told()["what"]]
    assert len(pieces_from_rough(event, pieces)) == 3
    return event


def open_demo() -> dict[str, User]:
    """The demo studio, besides with a draft of each purpose, a failed job and a worker that was seen; gives somebody
    of each role."""
    call_command("demo", verbosity=0)
    people = {role: User.objects.filter(role=role).first() for role in Role.values}
    for purpose in ("book", "ask"):
        jobs.BookingDraft.objects.create(user=people[Role.OWNER], purpose=purpose, data=told())
    BackgroundJob.objects.create(kind="none", subject_id=0, state=BackgroundJob.State.FAILED, reason="a test's own")
    # A walk over all pages takes minutes on a slow machine: seen now would be long ago by its end.
    Heartbeat.objects.update_or_create(name="worker", defaults={"seen": timezone.now() + timedelta(days=1)})
    piece = jobs.Piece.objects.filter(event=the_event(), panel__isnull=False).first()
    _paper_of(piece)
    _list_of(people[Role.OWNER])
    _orders()
    picture = read_picture(card_photo((125, 179, 216)))
    photo_add(item=Latex.objects.first(), picture=picture, original_name="sky.jpg", by=people[Role.OWNER])
    catalogue = catalogue_now()
    sheet = catalogue.sheet(piece.panel.sheet_id)
    panel_keep(panel=piece.panel, sheet=sheet, catalogue=catalogue, title="Lighthouse", note="kept")
    return people


def card_photo(rgb: tuple[int, int, int], size: tuple[int, int] = (480, 320)) -> bytes:
    """A drawn photograph: a ball of that colour right of a white card, before a grey-brown wall, all in warm light."""
    picture = Image.new("RGB", size, (96, 84, 70))
    draw, (wide, high) = ImageDraw.Draw(picture), size
    draw.rectangle((wide * 0.1, high * 0.2, wide * 0.4, high * 0.8), fill=(235, 222, 200))
    warm = tuple(round(part * by / 255) for part, by in zip(rgb, (235, 222, 200), strict=True))
    draw.ellipse((wide * 0.55, high * 0.2, wide * 0.95, high * 0.8), fill=warm)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=92)
    return out.getvalue()


def _orders() -> None:
    """One that is sent and one that is only written; and a hold of its own."""
    first, second = Item.objects.filter(kind="latex").order_by("pk")[:2]
    sent = ordering.orders_draft(packs={first.pk: 3})[0]
    ordering.order_send(order=sent, due_on=timezone.localdate() + timedelta(days=5))
    ordering.orders_draft(packs={second.pk: 2})
    starts, pole = timezone.now() + timedelta(days=70), Item.objects.filter(kind="hardware").first()
    ends, expires = starts + timedelta(days=1), timezone.now() + timedelta(days=1)
    reservation_hold(lines=[(pole.pk, 1)], starts=starts, ends=ends, label=NO_EVENT, expires=expires)


def _list_of(owner: User) -> None:
    """A list that was brought in and looked at: a row of each state."""
    item = Item.objects.filter(kind="hardware").first()
    rows = f'Name,Kind,Pack price\nHeron crate,hardware,3\n"{item.name}",hardware,77\n,hardware,1\n'
    batch = lists.import_start(data=rows.encode(), original_name="crates.csv", by=owner)
    lists.import_check(batch=batch)
    lists.check_compute(batch.pk, lambda fraction, words: None)()
    BackgroundJob.objects.filter(pk=StockImport.objects.get(pk=batch.pk).job_id).update(state=BackgroundJob.State.DONE)


def _paper_of(piece: jobs.Piece) -> None:
    """A chart paper of which the first page was photographed, with a cell that was not sure."""
    panel = piece.panel
    size = {"rows": panel.rows, "columns": panel.columns, "loading": panel.loading, "palette": panel.palette}
    paper = jobs.ChartPaper.objects.create(piece=piece, sheet=panel.sheet, paper="A4", **size)
    crops = file_store(data=b"crops", mime="image/jpeg", original_name="page 1.jpg")
    cells = {"cells": panel.cells, "second": panel.cells, "asked": [3], "unsure": [3]}
    jobs.PaperPage.objects.create(chart_paper=paper, number=1, crops=crops, **cells)
