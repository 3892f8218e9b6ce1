"""Every address, as each role and as nobody, on the demo studio."""

import hashlib

import pytest
from django.apps import apps
from django.core import serializers
from django.core.management import call_command
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from decor.studio.access import MATRIX
from decor.studio.models import BackgroundJob, Role, SignIn, StoredFile, User
from inventory.models import Item, Lot
from jobs import models as jobs
from jobs.proofs.services import link_token
from tests.conftest import signed_in

# Written by looking, on purpose: when one was last here, who was refused, how often a link was tried.
LOOKING_WRITES = {"SignIn", "AuditLine", "ProofVisits", "Session", "User", "BookingDraft", "RequestKey"}


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


@pytest.fixture
def demo(db):
    call_command("demo", verbosity=0)
    planner = User.objects.filter(role=Role.PLANNER).first()
    jobs.BookingDraft.objects.create(user=planner, purpose="book")
    return {role: User.objects.filter(role=role).first() for role in Role.values}


def state_of_the_business() -> dict[str, str]:
    state = {}
    for model in apps.get_models():
        if model.__name__ not in LOOKING_WRITES:
            rows = serializers.serialize("json", model.objects.order_by("pk"))
            state[model.__name__] = hashlib.sha256(rows.encode()).hexdigest()
    return state


def test_the_matrix_and_the_addresses_name_each_other():
    named = {name for name, _ in ADDRESSES}
    assert named - set(MATRIX) == set(), "an address that the matrix does not know opens for nobody"
    assert set(MATRIX) - named == set(), "the matrix names an address that does not exist"


def test_looking_as_anybody_opens_what_the_matrix_says_and_changes_nothing(demo):
    clients = {role: signed_in(user) for role, user in demo.items()}
    wrong, before = [], state_of_the_business()
    for name, pattern in ADDRESSES:
        rule = MATRIX[name]
        for role in [*Role.values, "nobody"]:
            client = clients.get(role) or Client()
            if name == "studio:logout":
                continue
            answer = client.get(address(name, pattern))
            if answer.status_code >= 500:
                wrong.append((name, role, answer.status_code))
            elif rule.public:
                continue
            elif role == "nobody":
                if not (answer.status_code == 302 and answer["Location"].startswith("/sign-in/")):
                    wrong.append((name, role, answer.status_code))
            elif (role in rule.roles) == (answer.status_code == 403):
                wrong.append((name, role, answer.status_code))
    assert not wrong
    after = state_of_the_business()
    assert [model for model in before if before[model] != after[model]] == []


def test_sending_as_somebody_who_may_not_changes_nothing(demo):
    clients = {role: signed_in(user) for role, user in demo.items()}
    wrong, before = [], state_of_the_business()
    for name, pattern in ADDRESSES:
        rule = MATRIX[name]
        if rule.public:
            continue
        for role in [*Role.values, "nobody"]:
            if role in rule.roles:
                continue
            client = clients.get(role) or Client()
            answer = client.post(address(name, pattern), {"name": "intruder"})
            if answer.status_code != (302 if role == "nobody" else 403):
                wrong.append((name, role, answer.status_code))
    assert not wrong
    after = state_of_the_business()
    assert [model for model in before if before[model] != after[model]] == []


def test_crew_never_see_a_price(demo):
    crew = signed_in(demo[Role.CREW])
    for name, pattern in ADDRESSES:
        if MATRIX[name].public or Role.CREW not in MATRIX[name].roles or name == "studio:logout":
            continue
        page = crew.get(address(name, pattern))
        text = page.content.decode(errors="ignore")
        for sign in ("€", "£", "EUR", "wage", "margin"):
            assert sign not in text, f"{name} shows {sign!r} to crew"


def test_headers_of_every_page(demo):
    owner = signed_in(demo[Role.OWNER])
    for client, path in ((owner, "/"), (Client(), "/sign-in/")):
        page = client.get(path)
        csp = page["Content-Security-Policy"]
        assert "unsafe-inline" not in csp and "unsafe-eval" not in csp
        for part in ("default-src 'self'", "object-src 'none'", "frame-ancestors 'none'", "base-uri 'none'"):
            assert part in csp
        assert page["X-Content-Type-Options"] == "nosniff"
        assert page["Referrer-Policy"] == "same-origin"
    assert "no-store" in owner.get("/")["Cache-Control"]
