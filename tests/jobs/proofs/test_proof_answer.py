from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from jobs.events.models import Event, Stage
from jobs.proofs import services, words
from jobs.proofs.models import Proof, ProofAnswer, ProofLink, ProofPicture
from jobs.proofs.payload import pictures_sha256
from tests.jobs.proofs.conftest import answer, issue

State = Proof.State


@pytest.mark.parametrize(
    ("action", "state"), [("approve", State.APPROVED), ("change", State.CHANGE), ("decline", State.DECLINED)]
)
def test_each_answer_gives_its_state_and_one_row_of_evidence(link, proof, action, state):
    before = timezone.now()
    row = answer(link, action=action, comment="The tower in white, please.", name="  Ada Quill ")
    proof.refresh_from_db()
    assert proof.state == state
    assert ProofAnswer.objects.count() == 1
    row.refresh_from_db()
    hashes = list(ProofPicture.objects.filter(proof=proof).values_list("sha256", flat=True))
    assert len(hashes) == 2
    assert (row.proof, row.link, row.recipient, row.action) == (proof, link, "Ada Quill", action)
    assert (row.name, row.comment) == ("Ada Quill", "The tower in white, please.")
    assert row.sentence == words.intent(action, services.facts(proof))
    assert row.payload_sha256 == proof.payload_sha256
    assert row.pictures_sha256 == pictures_sha256(hashes)
    assert (row.total, row.currency) == (proof.total, "EUR")
    assert before <= row.at <= timezone.now() and row.zone == "Europe/Dublin"
    assert (row.ip, row.agent, row.locale, row.request_key) == ("192.0.2.7", "phone", "en-IE", "k1")


def test_the_sentence_names_version_event_and_total(proof):
    said = words.intent("approve", services.facts(proof))
    assert "version 1" in said and "Harbour library centenary" in said and f"€{proof.total:,.2f}" in said


def test_declining_does_not_lose_the_event(link, proof):
    answer(link, action="decline")
    assert Event.objects.get(pk=proof.event_id).stage == Stage.QUOTED


def test_approving_is_not_confirming(link, proof):
    answer(link)
    assert Event.objects.get(pk=proof.event_id).stage == Stage.QUOTED


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        ({"name": "  "}, "name"),
        ({"action": "change", "comment": " \n"}, "comment"),
        ({"action": "burn"}, "burn"),
    ],
)
def test_what_is_missing_is_named_and_nothing_counts(link, proof, wrong, named):
    with pytest.raises(ValueError, match=named):
        answer(link, **wrong)
    proof.refresh_from_db()
    assert proof.state == State.WAITING and not ProofAnswer.objects.exists()


def test_only_the_first_answer_counts(link, proof):
    answer(link, action="change", comment="Bluer")
    other = services.proof_link_make(event=proof.event, recipient="Ben Rule")
    for late in (link, other):
        with pytest.raises(services.AlreadyAnswered):
            answer(late, action="approve")
    proof.refresh_from_db()
    assert proof.state == State.CHANGE and ProofAnswer.objects.count() == 1


def test_a_version_that_was_replaced_takes_no_answer(link, event):
    issue(event)
    with pytest.raises(services.NewerVersion):
        answer(link, version=1)
    assert not ProofAnswer.objects.exists()
    assert answer(link, version=2).proof.version == 2


def test_a_version_that_never_was_takes_no_answer(link):
    with pytest.raises(services.NewerVersion):
        answer(link, version=9)


def test_an_answer_counts_for_the_links_own_event_only(link, proof, studio, sheets, stocked):
    from tests.jobs.proofs.conftest import make_columns, make_event

    other = make_event("Other")
    make_columns(other)
    theirs = issue(other)
    answer(link)
    theirs.refresh_from_db()
    assert theirs.state == State.WAITING


def test_an_offer_that_ran_out_is_not_approved_but_may_be_talked_about(link, proof):
    Proof.objects.update(valid_until=timezone.localdate(timezone=proof.event.zone) - timedelta(days=1))
    with pytest.raises(services.OfferRanOut):
        answer(link)
    assert not ProofAnswer.objects.exists()
    assert answer(link, action="change", comment="A new date").action == "change"


def test_the_last_day_of_an_offer_is_the_venues_day(proof, monkeypatch):
    Proof.objects.update(valid_until="2031-06-10")
    proof.refresh_from_db()
    for moment, late in (
        (datetime(2031, 6, 10, 22, 59, tzinfo=UTC), False),  # 23:59 in Dublin
        (datetime(2031, 6, 10, 23, 1, tzinfo=UTC), True),
    ):
        monkeypatch.setattr(timezone, "now", lambda moment=moment: moment)
        assert services.offer_ran_out(proof, proof.event) is late


@pytest.mark.parametrize("stage", [Stage.LOST, Stage.CANCELLED])
def test_an_event_that_is_off_takes_no_answer(link, stage):
    Event.objects.update(stage=stage)
    with pytest.raises(services.EventEnded):
        answer(link)


def test_a_link_that_died_meanwhile_takes_no_answer(link, proof):
    stale = ProofLink.objects.select_related("event__venue").get(pk=link.pk)
    services.proof_link_revoke(link=link)
    assert not stale.revoked
    with pytest.raises(services.LinkDead):
        answer(stale)
    assert not ProofAnswer.objects.exists()


def test_the_database_itself_holds_one_waiting_version_and_one_answer(link, proof, event):
    with pytest.raises(IntegrityError), transaction.atomic():
        Proof.objects.create(
            event=event, version=2, payload="{}", payload_sha256="0" * 64, total=1, currency="EUR",
            valid_until=proof.valid_until,
        )  # fmt: skip
    first = answer(link)
    first.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        first.save(force_insert=True)
