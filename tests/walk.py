"""Every address of the program, filled from whatever studio stands in the database; and the demo studio to walk."""

from datetime import datetime, timedelta

from django.core.management import call_command
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from decor.studio import background
from decor.studio.models import BackgroundJob, Role, SignIn, User
from inventory.models import Item, Lot
from jobs import models as jobs
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
        "item": lambda: Item.objects.filter(kind="sheet").first().pk,
        "lot": lambda: Lot.objects.first().pk,
        "kind": lambda: "sheet",
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
    background.heartbeat(name="worker")
    return people
