"""Every address, as each role and as nobody, on the demo studio."""

import hashlib

import pytest
from django.apps import apps
from django.core import serializers
from django.test import Client

from decor.studio.access import MATRIX
from decor.studio.models import Role
from tests.conftest import signed_in
from tests.walk import ADDRESSES, address, open_demo

# Written by looking, on purpose: when one was last here, who was refused, how often a link was tried.
LOOKING_WRITES = {"SignIn", "AuditLine", "ProofVisits", "Session", "User", "BookingDraft", "RequestKey"}

# A build book is a file that somebody must ask for first, a venue's photograph one that somebody must send; their own
# tests open them.
NOT_MADE_YET = {"jobs:build-book-file", "jobs:day-book", "jobs:panel-venue-image"}


@pytest.fixture
def demo(db):
    return open_demo()


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
            elif role == Role.OWNER and answer.status_code == 404 and name not in NOT_MADE_YET:
                wrong.append((name, role, "nothing there: the walk would prove nothing"))
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
    crew, seen = signed_in(demo[Role.CREW]), set()
    for name, pattern in ADDRESSES:
        if MATRIX[name].public or Role.CREW not in MATRIX[name].roles or name == "studio:logout":
            continue
        page = crew.get(address(name, pattern))
        if page.status_code == 200:
            seen.add(name)
        if page.get("Content-Type", "").startswith("image/"):
            continue  # a picture's bytes read as text hold any sign by chance
        text = page.content.decode(errors="ignore")
        for sign in ("€", "£", "EUR", "wage", "margin"):
            assert sign not in text, f"{name} shows {sign!r} to crew"
    assert {"jobs:today", "jobs:day-sheet"} <= seen, "what was refused or not there shows nothing anyway"


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
