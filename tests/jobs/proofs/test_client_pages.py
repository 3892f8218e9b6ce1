"""The client's pages, without an account, over HTTP."""

import hashlib
import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.apps import apps
from django.core import serializers
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import Studio
from jobs.events.models import Event
from jobs.proofs.links import link_address
from jobs.proofs.models import Proof, ProofAnswer, ProofPicture, ProofVisits
from jobs.proofs.services import link_token, proof_link_make, proof_link_revoke
from jobs.proofs.visits import MOST_ASKED, MOST_BAD
from tests.jobs.proofs.conftest import COUNTS, answer, issue, make_columns, make_event

State = Proof.State
ANSWERS = ["approve", "change", "decline"]


@pytest.fixture
def token(link) -> str:
    return link_token(link)


def home(token: str) -> str:
    return f"/p/{token}/"


def picture(token: str, proof: Proof) -> str:
    return reverse("jobs:proof-picture", args=[token, ProofPicture.objects.filter(proof=proof).first().file_id])


def form_of(page) -> dict[str, str]:
    """What the page's form would send as it stands."""
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page.content.decode())
    return {name: value for name, value in found if name != "csrfmiddlewaretoken"}


def send(client: Client, token: str, action: str, **changes: str):
    path = f"{home(token)}{action}/"
    given = form_of(client.get(path)) | {"name": "Ada Quill", "comment": "The tower in white"}
    return client.post(path, given | changes)


def test_the_page_says_everything_before_the_buttons(as_nobody, token, proof, studio):
    page = as_nobody.get(home(token))
    text = page.content.decode()
    assert page.status_code == 200
    order = [studio.name, "Version 1", "Harbour library centenary", "Quay Hall", "Lighthouse picture"]
    order += ["3.4 m wide, 2.8 m high", *(f"{name}<br>{count}" for name, count in COUNTS.items())]
    order += ["Tax, 20 %", "Total with tax", f"€{proof.total:,.2f}", "Deposit €", "within 7 days of your yes"]
    order += ["Offer good until", "Included:", "Not included:", "Lights, power and parking.", "Terms:"]
    order += ["The deposit holds the date.", "Please mind:", "choke", studio.phone]
    order += ["Approve this version", "Ask for a change", "Decline", "Whoever has this link", "made with Knotbook"]
    at = -1
    for words in order:
        found = text.find(words, at + 1)
        assert found > at, f"{words!r} does not come after the words before it"
        at = found


def test_the_lines_and_the_tax_add_to_the_total_as_shown(as_nobody, token):
    text = as_nobody.get(home(token)).content.decode()
    table = text[text.index('<table class="price">') : text.index("</table>")]
    amounts = [round(float(a.replace(",", "")) * 100) for a in re.findall(r"€([\d,]+\.\d\d)", table)]
    assert len(amounts) == 4 and sum(amounts[:-1]) == amounts[-1]


def test_nothing_of_the_studios_own_is_on_any_page(token, proof, as_nobody):
    Studio.objects.update(wage_per_hour="17.93", margin_percent="38.9")
    Event.objects.update(note="they haggle")
    pages = [home(token), *(f"{home(token)}{action}/" for action in ANSWERS)]
    text = "".join(as_nobody.get(page).content.decode() for page in pages)
    assert "Lighthouse" in text
    for secret in ("17.93", "38.9", "haggle", "margin", "wage", "overhead", "Pat Reed", "friends@quayside.example"):
        assert secret not in text, secret
    costs = [Decimal(line[side]) for line in proof.estimate.result["costs"] for side in ("low", "high")]
    assert any(costs)
    for cost in filter(None, costs):
        assert f"{cost:,.2f}" not in text, cost


def state_of_the_business() -> dict[str, str]:
    """Every table, but for the one that counts visits: it holds nothing of any event, and is kept apart."""
    return {
        model.__name__: serializers.serialize("json", model.objects.order_by("pk"))
        for model in apps.get_models()
        if model is not ProofVisits
    }


@pytest.mark.parametrize("answered", [False, True])
def test_looking_changes_nothing(as_nobody, token, link, proof, answered):
    if answered:
        answer(link)
    paths = [home(token), *(f"{home(token)}{action}/" for action in ANSWERS), picture(token, proof)]
    paths.append(reverse("jobs:proof-version", args=[token, proof.pk]))
    before = state_of_the_business()
    assert "ProofAnswer" in before and "Session" in before
    for path in paths:
        for method in ("get", "head", "options"):
            for _ in range(5):
                ProofVisits.objects.all().delete()
                reply = getattr(as_nobody, method)(path)
                assert reply.status_code in {200, 302, 404, 405} and reply["X-Robots-Tag"] == "noindex, nofollow"
    assert state_of_the_business() == before


def test_looking_is_what_the_counter_sees(as_nobody, token):
    as_nobody.get(home(token))
    as_nobody.head(home(token))
    assert ProofVisits.objects.get().asked == 2


@pytest.mark.parametrize("action", ANSWERS)
def test_every_answer_is_asked_once_more_and_then_counts(as_nobody, token, proof, action):
    asked = as_nobody.get(f"{home(token)}{action}/")
    text = asked.content.decode()
    assert not ProofAnswer.objects.exists()
    for words in ("version 1", f"€{proof.total:,.2f}", "The deposit holds the date.", "<img", "Your name"):
        assert words in text
    reply = send(as_nobody, token, action)
    assert (reply.status_code, reply["Location"]) == (302, home(token))
    row = ProofAnswer.objects.get()
    assert row.action == action and row.name == "Ada Quill"
    assert row.sentence in text.replace("&#x27;", "'"), "what is kept is what was read"
    assert row.request_key and row.ip == "127.0.0.1"
    receipt = as_nobody.get(home(token)).content.decode()
    assert row.sentence in receipt and "Ada Quill" in receipt and row.payload_sha256[:16] in receipt
    assert "Approve this version" not in receipt


def test_the_evidence_says_how_it_arrived(as_nobody, token):
    path = f"{home(token)}approve/"
    given = form_of(as_nobody.get(path)) | {"name": "Ada Quill"}
    as_nobody.post(path, given, headers={"user-agent": "A phone", "accept-language": "en-IE,en;q=0.9"})
    row = ProofAnswer.objects.get()
    assert (row.agent, row.locale, row.request_key) == ("A phone", "en-IE,en;q=0.9", given["request_key"])


def test_sent_twice_it_counts_once(as_nobody, token):
    path = f"{home(token)}approve/"
    given = form_of(as_nobody.get(path)) | {"name": "Ada Quill"}
    first, second = as_nobody.post(path, given), as_nobody.post(path, given)
    assert first.status_code == second.status_code == 302 and first["Location"] == second["Location"]
    assert ProofAnswer.objects.count() == 1


def test_a_second_answer_from_a_page_left_open_is_refused(as_nobody, token):
    open_page = form_of(as_nobody.get(f"{home(token)}decline/"))
    send(as_nobody, token, "approve")
    late = as_nobody.post(f"{home(token)}decline/", open_page | {"name": "Ben Rule"})
    assert late.status_code == 409 and "already answered" in late.content.decode()
    assert ProofAnswer.objects.get().action == "approve"


@pytest.mark.parametrize(
    ("action", "changes", "words"),
    [
        ("approve", {"name": ""}, "Write your name"),
        ("change", {"comment": "  "}, "Say what should change"),
        ("decline", {"name": " "}, "Write your name"),
    ],
)
def test_what_is_missing_is_said_beside_the_field(as_nobody, token, action, changes, words):
    reply = send(as_nobody, token, action, **changes)
    assert reply.status_code == 422
    assert reply.content.decode().count(words) == 2, "in the summary and at the field"
    assert not ProofAnswer.objects.exists()


def test_a_reason_for_declining_may_be_left_out(as_nobody, token):
    assert send(as_nobody, token, "decline", comment="").status_code == 302


def test_an_answer_to_a_replaced_version_is_refused_and_the_newer_one_shown(as_nobody, token, event):
    old = form_of(as_nobody.get(f"{home(token)}approve/")) | {"name": "Ada Quill"}
    issue(event)
    reply = as_nobody.post(f"{home(token)}approve/", old)
    text = reply.content.decode()
    assert reply.status_code == 409 and "There is a newer version" in text and f'href="{home(token)}"' in text
    assert not ProofAnswer.objects.exists()
    assert "Version 2" in as_nobody.get(home(token)).content.decode()


@pytest.mark.parametrize("version", ["", "7", "x"])
def test_an_answer_to_no_version_is_refused(as_nobody, token, version):
    assert send(as_nobody, token, "approve", version=version).status_code == 409
    assert not ProofAnswer.objects.exists()


def test_a_new_version_after_an_answer_is_not_answered_and_the_old_receipt_stays(as_nobody, token, link, proof, event):
    answer(link)
    issue(event)
    text = as_nobody.get(home(token)).content.decode()
    old = reverse("jobs:proof-version", args=[token, proof.pk])
    assert "Approve this version" in text and "Version 2" in text and old in text
    receipt = as_nobody.get(old).content.decode()
    assert "says nothing about it" in receipt and "Approve this version" not in receipt and "Ada Quill" in receipt


def test_a_version_nobody_answered_is_not_opened_by_its_number(as_nobody, token, proof, event):
    issue(event)
    assert as_nobody.get(reverse("jobs:proof-version", args=[token, proof.pk])).status_code == 404


def test_an_offer_that_ran_out_cannot_be_approved(as_nobody, token, event):
    left_open = form_of(as_nobody.get(f"{home(token)}approve/")) | {"name": "Ada Quill"}
    Proof.objects.update(valid_until="2024-01-31")
    text = as_nobody.get(home(token)).content.decode()
    assert "This offer ran out on" in text and "Approve this version" not in text and "Ask for a change" in text
    assert as_nobody.get(f"{home(token)}approve/")["Location"] == home(token)
    assert as_nobody.post(f"{home(token)}approve/", left_open).status_code == 409
    assert not ProofAnswer.objects.exists()


def dead(token, link, how):
    if how == "revoked":
        proof_link_revoke(link=link)
    elif how == "over":
        gone = timezone.now() - timedelta(days=14, minutes=1)
        day = timedelta(days=1)
        Event.objects.update(load_in=gone - day, doors=gone - day, ends=gone, strike=gone)
    return "A" * 43 if how == "unknown" else token


@pytest.mark.parametrize("how", ["unknown", "revoked", "over"])
def test_a_dead_link_is_gone_and_says_whom_to_ask(as_nobody, token, link, proof, studio, how):
    left_open = form_of(as_nobody.get(f"{home(token)}approve/")) | {"name": "Ada Quill"}
    token = dead(token, link, how)
    paths = [home(token), *(f"{home(token)}{action}/" for action in ANSWERS), picture(token, proof)]
    for path in paths:
        reply = as_nobody.get(path)
        text = reply.content.decode()
        assert reply.status_code == 410, path
        assert studio.name in text and studio.phone in text and studio.email in text
        assert "Harbour" not in text and "€" not in text
    assert as_nobody.post(f"{home(token)}approve/", left_open).status_code == 410
    assert not ProofAnswer.objects.exists()


def test_too_many_requests_are_asked_to_wait(as_nobody, token):
    for _ in range(MOST_ASKED):
        assert as_nobody.get(home(token)).status_code == 200
    reply = as_nobody.get(home(token))
    assert reply.status_code == 429 and 1 <= int(reply["Retry-After"]) <= 60
    assert "Try again in a minute" in reply.content.decode()
    other = Client(REMOTE_ADDR="192.0.2.9")
    assert other.get(home(token)).status_code == 200


def test_a_pages_own_pictures_do_not_use_up_its_requests(as_nobody, token, proof):
    for _ in range(MOST_ASKED + 1):
        assert as_nobody.get(picture(token, proof)).status_code == 200
    assert as_nobody.get(home(token)).status_code == 200


def test_pictures_are_no_way_to_guess(as_nobody, token, proof):
    guess = picture(token, proof).replace(token, "C" * 43)
    for _ in range(MOST_BAD):
        assert as_nobody.get(guess).status_code == 410
    assert as_nobody.get(picture(token, proof)).status_code == 429
    assert as_nobody.get(home(token)).status_code == 429


def test_whoever_guesses_is_shut_out_even_with_a_right_token(as_nobody, token):
    for n in range(MOST_BAD):
        assert as_nobody.get(home(f"{n}" * 43)).status_code == 410
    assert as_nobody.get(home(token)).status_code == 429
    ProofVisits.objects.update(bad_window=timezone.now() - timedelta(minutes=10))
    assert as_nobody.get(home(token)).status_code == 200


def test_a_forged_forwarded_address_does_not_help_a_guesser(as_nobody, token, settings):
    for n in range(MOST_BAD):
        as_nobody.get(home(f"{n}" * 43), headers={"x-forwarded-for": f"203.0.113.{n}"})
    assert as_nobody.get(home(token)).status_code == 429
    settings.BEHIND_PROXY = True
    assert as_nobody.get(home(token), headers={"x-forwarded-for": "127.0.0.1, 203.0.113.80"}).status_code == 200
    assert as_nobody.get(home(token), headers={"x-forwarded-for": "203.0.113.80, 127.0.0.1"}).status_code == 429


def test_headers_of_every_reply(as_nobody, token, proof):
    paths = [home(token), f"{home(token)}approve/", picture(token, proof), home("B" * 43), f"{home(token)}picture/0/"]
    for path in paths:
        reply = as_nobody.get(path)
        assert reply["Cache-Control"] == "private, no-store", path
        assert reply["X-Robots-Tag"] == "noindex, nofollow"
        assert reply["Referrer-Policy"] == "same-origin"
    assert as_nobody.post(home(token)).status_code == 405


def test_the_preview_tells_a_stranger_nothing(as_nobody, token, link, studio):
    text = as_nobody.get(home(token)).content.decode()
    head = text[: text.index("</head>")]
    for name in ("og:title", "og:description", "og:url"):
        assert re.search(rf'<meta property="{name}" content="[^"]+">', head)
    assert f'content="Proof from {studio.name}"' in head and f'content="{link_address(link)}"' in head
    for secret in ("Harbour", "Quay", "€", "Ada", "Lighthouse"):
        assert secret not in head
    assert not re.search(r'(?:src|href)="https?://', text), "nothing from elsewhere, so the address is told to nobody"


def test_pictures_are_the_recorded_bytes_and_only_of_this_event(as_nobody, token, proof):
    for row in ProofPicture.objects.filter(proof=proof):
        reply = as_nobody.get(reverse("jobs:proof-picture", args=[token, row.file_id]))
        assert hashlib.sha256(reply.content).hexdigest() == row.sha256
        assert reply["Content-Type"] == row.file.mime
        assert reply["Content-Security-Policy"] == "default-src 'none'; sandbox"
        assert reply["X-Content-Type-Options"] == "nosniff"
    other = make_event("Other")
    make_columns(other)
    theirs = ProofPicture.objects.get(proof=issue(other))
    assert as_nobody.get(reverse("jobs:proof-picture", args=[token, theirs.file_id])).status_code == 404


def test_a_link_before_the_first_version_says_so(as_nobody, event):
    early = link_token(proof_link_make(event=event, recipient="Ada Quill"))
    assert "not ready yet" in as_nobody.get(home(early)).content.decode()
    for action in ANSWERS:
        assert as_nobody.post(f"{home(early)}{action}/", {"name": "Ada", "version": "1"}).status_code == 302
    assert not ProofAnswer.objects.exists()


def test_no_account_and_no_tabs(as_owner, token):
    text = as_owner.get(home(token)).content.decode()
    assert 'class="tabs"' not in text and "Olive" not in text


def test_an_answer_without_its_forgery_token_is_refused(token):
    strict = Client(enforce_csrf_checks=True)
    given = form_of(strict.get(f"{home(token)}approve/")) | {"name": "Ada Quill"}
    assert strict.post(f"{home(token)}approve/", given).status_code == 403
    assert not ProofAnswer.objects.exists()


def test_what_a_client_types_is_shown_as_typed_and_never_run(as_nobody, token):
    send(as_nobody, token, "change", comment="<script>alert(1)</script>", name="<b>Ada</b>")
    text = as_nobody.get(home(token)).content.decode()
    assert "<script>alert" not in text and "<b>Ada" not in text and "&lt;script&gt;alert(1)" in text
