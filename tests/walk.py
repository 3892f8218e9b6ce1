"""Every address of the program, filled from whatever studio stands in the database; and the demo studio to walk."""

from django.core.management import call_command
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from decor.studio import background
from decor.studio.models import BackgroundJob, Role, SignIn, StoredFile, User
from inventory.models import Item, Lot
from jobs import models as jobs
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


def arguments(pattern: URLPattern) -> dict[str, object]:
    known = {
        "event": lambda: jobs.Event.objects.filter(shift__isnull=False, proof__isnull=False).first().pk,
        "piece": lambda: jobs.Piece.objects.filter(panel__isnull=False).first().pk,
        "client": lambda: jobs.Client.objects.first().pk,
        "venue": lambda: jobs.Venue.objects.first().pk,
        "item": lambda: Item.objects.filter(kind="sheet").first().pk,
        "lot": lambda: Lot.objects.first().pk,
        "kind": lambda: "sheet",
        "proof": lambda: jobs.Proof.objects.first().pk,
        "link": lambda: jobs.ProofLink.objects.first().pk,
        "shift": lambda: jobs.Shift.objects.first().pk,
        "member": lambda: jobs.Member.objects.first().pk,
        "absence": lambda: jobs.Absence.objects.first().pk,
        "estimate": lambda: jobs.Estimate.objects.first().pk,
        "draft": lambda: jobs.BookingDraft.objects.first().pk,
        "token": lambda: link_token(jobs.ProofLink.objects.first()),
        "file": lambda: StoredFile.objects.first().pk,
        "user": lambda: User.objects.first().pk,
        "sign_in": lambda: SignIn.objects.first().pk,
        "job": lambda: BackgroundJob.objects.first().pk,
        "index": lambda: 0,
        "number": lambda: 1,
        "action": lambda: "approve",
        "step": lambda: "who",
    }
    return {name: known[name]() for name in pattern.pattern.converters}


def address(name: str, pattern: URLPattern) -> str:
    kwargs = arguments_of(pattern)
    return reverse(name, kwargs=kwargs)


def arguments_of(pattern: URLPattern) -> dict[str, object]:
    given = arguments(pattern)
    if "event" in given and "piece" in given:
        given["event"] = jobs.Piece.objects.get(pk=given["piece"]).event_id
    return given


def open_demo() -> dict[str, User]:
    """The demo studio with a draft, a failed job and a worker that was seen besides; gives somebody of each role."""
    call_command("demo", verbosity=0)
    people = {role: User.objects.filter(role=role).first() for role in Role.values}
    jobs.BookingDraft.objects.create(user=people[Role.PLANNER], purpose="book")
    BackgroundJob.objects.create(kind="none", subject_id=0, state=BackgroundJob.State.FAILED, reason="a test's own")
    background.heartbeat(name="worker")
    return people
