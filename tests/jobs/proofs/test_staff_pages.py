"""The studio's side: making versions and links, reading answers."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import AuditLine
from decor.studio.templatetags.desk import day_words, money_words
from jobs.designs.models import Piece
from jobs.estimates.rows import glance_row as price_row
from jobs.estimates.services import estimate_now
from jobs.events.models import Stage
from jobs.proofs.collect import draft_of
from jobs.proofs.links import link_address
from jobs.proofs.models import Proof, ProofLink, ProofPicture
from jobs.proofs.rows import glance_row, price_told
from jobs.proofs.services import facts, link_token, proof_link_make
from tests.jobs.proofs.conftest import answer, issue, make_columns, make_event

State = Proof.State


def at(name: str, event, *more: object) -> str:
    return reverse(f"jobs:{name}", args=[event.pk, *more])


def test_without_an_estimate_it_says_what_is_missing(as_planner, event):
    text = as_planner.get(at("event-proof", event)).content.decode()
    assert "There is no finished estimate yet." in text
    assert as_planner.get(at("proof-new", event))["Location"] == at("event-proof", event)
    assert as_planner.post(at("proof-new", event), {"net": "100"})["Location"] == at("event-proof", event)
    assert not Proof.objects.exists()


def test_without_a_piece_it_says_so(as_planner, studio):
    assert draft_of(make_event()).lacks == ("The event has no piece yet.",)


def test_what_cannot_stand_is_not_offered(as_planner, event):
    Piece.objects.filter(event=event, kind="column").update(fill="helium")
    event.ends = event.doors + timedelta(hours=40)
    event.strike = event.ends + timedelta(hours=1)
    event.save()
    estimate_now(event=event)
    (lack,) = draft_of(event).lacks
    assert lack.startswith("As entered it won't work. Spiral columns: 11 in balloons on helium float for 16 h")
    assert as_planner.get(at("proof-new", event))["Location"] == at("event-proof", event)
    total = price_told(event, price_row(event))
    assert (total.state, total.state_words) == ("no", "Won't work")


def test_after_a_change_the_old_estimate_does_not_price_the_new_pieces(event):
    estimate_now(event=event)
    assert not draft_of(event).lacks
    Piece.objects.filter(kind="column").update(count=4)
    assert "Something has changed" in draft_of(event).lacks[0]
    estimate_now(event=event)
    assert not draft_of(event).lacks


def test_a_version_is_made_at_the_studios_price(as_planner, planner, event):
    estimate_now(event=event)
    page = as_planner.get(at("proof-new", event))
    text = page.content.decode()
    assert "The estimate says €" in text and "Lighthouse picture" in text and "Navy<br>104" in text
    until = (timezone.localdate() + timedelta(days=9)).isoformat()
    reply = as_planner.post(at("proof-new", event), {"net": "1000.01", "valid_until": until, "request_key": "k"})
    assert reply["Location"] == at("event-proof", event)
    again = as_planner.post(at("proof-new", event), {"net": "1000.01", "valid_until": until, "request_key": "k"})
    assert again.status_code == 302
    proof = Proof.objects.get()
    price = facts(proof)["price"]
    assert (price["net"], price["tax"], price["total"]) == ("1000.01", "200.00", "1200.01")
    assert (str(proof.valid_until), proof.made_by, proof.estimate) == (until, planner, draft_of(event).estimate)
    assert AuditLine.objects.filter(act="proof issued", user=planner).count() == 1


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"net": "0"}, "The price must be more than 0."),
        ({"net": "ten"}, "This must be a number."),
        ({"net": "1.234"}, "2 digits behind the point"),
        ({"valid_until": "2024-01-01"}, "This day has passed."),
        ({"valid_until": "2124-01-01"}, "This is after the event."),
    ],
)
def test_bad_input_is_said_at_its_field(as_planner, event, wrong, words):
    estimate_now(event=event)
    given = {"net": "1000", "valid_until": timezone.localdate().isoformat()} | wrong
    reply = as_planner.post(at("proof-new", event), given)
    assert reply.status_code == 422 and words in reply.content.decode()
    assert not Proof.objects.exists()


def test_a_link_is_made_shown_and_ended(as_planner, proof, event):
    reply = as_planner.post(at("proof-link-new", event), {"recipient": "Ada Quill", "request_key": "k"})
    link = ProofLink.objects.get()
    assert reply["Location"].startswith(at("event-proof", event))
    text = as_planner.get(at("event-proof", event)).content.decode()
    assert link_address(link) in text and "Ada Quill" in text
    as_planner.post(at("proof-link-end", event), {"link": link.pk})
    link.refresh_from_db()
    assert link.revoked
    text = as_planner.get(at("event-proof", event)).content.decode()
    assert link_token(link) not in text and "No longer works" in text
    log = " ".join(f"{line.act} {line.subject}" for line in AuditLine.objects.all())
    assert "proof link made" in log and "proof link ended" in log and link_token(link) not in log


def test_a_link_needs_a_name(as_planner, proof, event):
    assert as_planner.post(at("proof-link-new", event), {"recipient": " "}).status_code == 422
    assert not ProofLink.objects.exists()


def test_another_events_link_proof_or_picture_is_not_found(as_planner, proof, event, link):
    other = make_event("Other")
    make_columns(other)
    theirs = issue(other)
    file = ProofPicture.objects.get(proof=theirs).file_id
    piece = Piece.objects.get(event=other)
    assert as_planner.post(at("proof-link-end", other), {"link": link.pk}).status_code == 404
    assert as_planner.get(at("event-proof-version", event, theirs.pk)).status_code == 404
    assert as_planner.get(at("event-proof-picture", event, file)).status_code == 404
    assert as_planner.get(at("proof-draft-picture", event, piece.pk)).status_code == 404
    assert as_planner.get(at("event-proof-picture", other, file)).status_code == 200
    assert as_planner.get(at("proof-draft-picture", other, piece.pk)).status_code == 200
    link.refresh_from_db()
    assert not link.revoked


def test_answers_are_read_with_their_comment_and_the_record_is_checked(as_planner, proof, event, link):
    answer(link, action="change", comment="The tower in white")
    page = as_planner.get(at("event-proof", event)).content.decode()
    for words in ("Change asked for", "Ada Quill", "The tower in white", "unchanged since", "Make version 2"):
        assert words in page
    Proof.objects.update(payload=proof.payload.replace("Quay Hall", "Quay Barn"))
    assert "does not match its fingerprint" in as_planner.get(at("event-proof", event)).content.decode()


def test_the_preview_is_what_was_recorded(as_planner, proof, event):
    event.title = "Another name"
    event.save()
    text = as_planner.get(at("event-proof-version", event, proof.pk)).content.decode()
    assert "Harbour library centenary" in text and "Another name" not in text.split("<h1>")[1].split("</h1>")[0]


PAGES = ["event-proof", "proof-new"]
POSTS = ["proof-new", "proof-link-new", "proof-link-end"]


def test_crew_and_strangers_are_kept_out(as_crew, as_nobody, proof, event, link):
    file = ProofPicture.objects.filter(proof=proof).first().file_id
    paths = [at(name, event) for name in PAGES]
    paths += [at("event-proof-version", event, proof.pk), at("event-proof-picture", event, file)]
    paths += [at("proof-draft-picture", event, Piece.objects.filter(event=event).first().pk)]
    for path in paths:
        assert as_crew.get(path).status_code == 403
        assert as_nobody.get(path)["Location"].startswith("/sign-in/")
    for name in POSTS:
        given = {"recipient": "Me", "link": link.pk, "net": "1", "valid_until": timezone.localdate().isoformat()}
        assert as_crew.post(at(name, event), given).status_code == 403
        assert as_nobody.post(at(name, event), given)["Location"].startswith("/sign-in/")
    link.refresh_from_db()
    assert not link.revoked and ProofLink.objects.count() == 1 and Proof.objects.count() == 1


def test_owner_and_planner_may(as_owner, as_planner, proof, event):
    assert as_owner.get(at("event-proof", event)).status_code == 200
    assert as_planner.get(at("event-proof", event)).status_code == 200


def test_the_glance_tells_how_the_proof_stands(event, studio):
    assert glance_row(event).act is None
    estimate_now(event=event)
    assert glance_row(event).act == ("Make the proof", at("proof-new", event))
    first = issue(event)
    assert glance_row(event).state_words == "Not sent"
    link = proof_link_make(event=event, recipient="Ada Quill")
    row = glance_row(event)
    assert row.state_words == "Waits for an answer" and "Ada Quill" in row.small and row.act is None
    answer(link, action="change", comment="Bluer")
    row = glance_row(event)
    assert (row.state, row.state_words) == ("warn", "Change asked for") and "Bluer" in row.small
    assert row.act == ("Make version 2 of the proof", at("proof-new", event))
    issue(event)
    Proof.objects.filter(version=2).update(valid_until="2024-01-01")
    assert glance_row(event).state_words == "Ran out"
    issue(event)
    answer(link, version=3, action="decline", comment="Too dear")
    row = glance_row(event)
    assert (row.state_words, row.act) == ("Declined", ("Say whether it is lost", at("event-stage", event)))
    issue(event)
    answer(link, version=4)
    event.refresh_from_db()
    row = glance_row(event)
    assert (row.state, row.state_words, row.act[0]) == ("ok", "Approved", "Confirm the event")
    event.stage = Stage.CONFIRMED
    assert glance_row(event).act is None
    assert first.version == 1


def test_the_price_at_the_glance_is_the_one_that_was_offered_or_agreed(event, studio):
    estimate_now(event=event)
    estimated = price_row(event)
    assert price_told(event, estimated) == estimated
    offered = issue(event)
    total = money_words(offered.total, "EUR")
    row = price_told(event, estimated)
    assert (row.stands, row.state_words) == (f"{total} with tax", "Estimated")
    link = proof_link_make(event=event, recipient="Ada Quill")
    answer(link, action="change", comment="Bluer")
    assert price_told(event, estimated) == estimated
    issue(event)
    answer(link, version=2)
    row = price_told(event, estimated)
    deposit = money_words(facts(Proof.objects.get(version=2))["price"]["deposit"], "EUR")
    due = day_words(timezone.localdate(timezone=event.zone) + timedelta(days=studio.deposit_days))
    assert (row.stands, row.state, row.state_words) == (f"{total} with tax", "ok", "Agreed")
    assert row.small == f"deposit {deposit} due by {due}"


def test_an_event_that_is_lost_gets_no_new_version(event):
    estimate_now(event=event)
    event.stage = Stage.LOST
    event.save()
    assert draft_of(event).lacks == ("The event is lost.",)


def test_the_page_asks_the_database_no_more_for_more_versions(
    as_planner, event, link, django_assert_max_num_queries, django_assert_num_queries
):
    path = at("event-proof", event)
    as_planner.get(path)
    with django_assert_max_num_queries(40) as few:
        as_planner.get(path)
    for _ in range(4):
        issue(event)
        proof_link_make(event=event, recipient="More")
    with django_assert_num_queries(len(few)):
        as_planner.get(path)
