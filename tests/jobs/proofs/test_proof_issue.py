import hashlib
import json
from datetime import timedelta

import pytest
from django.utils import timezone

from decor.studio.models import StoredFile, Studio
from decor.studio.services import file_path, file_read
from jobs.events.models import Stage
from jobs.money.offers import offer_of
from jobs.proofs.collect import draft_of
from jobs.proofs.models import Proof, ProofPicture
from jobs.proofs.payload import canonical
from jobs.proofs.services import facts, proof_intact, proof_issue
from tests.jobs.proofs.conftest import COUNTS, answer, issue

State = Proof.State


def test_the_stored_bytes_have_the_recorded_hashes(proof):
    stored = Proof.objects.get(pk=proof.pk)
    assert hashlib.sha256(stored.payload.encode()).hexdigest() == stored.payload_sha256
    pictures = list(ProofPicture.objects.filter(proof=proof))
    assert [p.title for p in pictures] == ["Lighthouse picture", "Spiral columns"]
    recorded = [piece["picture"]["sha256"] for piece in json.loads(stored.payload)["pieces"]]
    for picture, sha in zip(pictures, recorded, strict=True):
        data = file_read(file=picture.file)
        assert hashlib.sha256(data).hexdigest() == picture.sha256 == picture.file.sha256 == sha
    assert file_read(file=pictures[0].file).startswith(b"\xff\xd8")
    assert file_read(file=pictures[1].file).startswith(b"<svg") and b"xmlns=" in file_read(file=pictures[1].file)
    assert proof_intact(proof=stored)


def test_the_record_is_canonical(proof):
    assert proof.payload == canonical(json.loads(proof.payload))
    assert proof.payload == json.dumps(
        json.loads(proof.payload), sort_keys=True, separators=(",", ":"), ensure_ascii=False
    )

    def no_floats(value):
        if isinstance(value, dict):
            return all(no_floats(v) for v in value.values())
        if isinstance(value, list):
            return all(no_floats(v) for v in value)
        return not isinstance(value, float)

    assert no_floats(json.loads(proof.payload))


def test_it_says_what_the_client_must_know(proof, event, studio):
    said = facts(proof)
    assert said["studio"] == {"name": studio.name, "phone": studio.phone, "email": studio.email}
    assert said["event"]["title"] == event.title and said["venue"]["name"] == "Quay Hall"
    panel, columns = said["pieces"]
    assert {c["name"]: c["count"] for c in panel["colours"]} == COUNTS
    assert {c["name"]: c["hex"] for c in panel["colours"]}["Sky"] == "#7DB3D8"
    assert panel["balloons"] == sum(COUNTS.values())
    assert panel["size"] == "3.4 m wide, 2.8 m high"
    assert columns["count"] == 2 and columns["size"].startswith("Each ")
    assert sum(c["count"] for c in columns["colours"]) == columns["balloons"]
    assert {c["name"] for c in columns["colours"]} == {"Red", "White"}
    price = said["price"]
    assert price["total"] == str(proof.total) and price["currency"] == "EUR"
    assert price["deposit_days"] == studio.deposit_days
    assert said["terms"] == studio.terms and said["not_included"] == studio.not_included
    assert said["included"] == "All materials, delivery, putting up and taking down."
    assert any("choke" in caution for caution in said["cautions"])
    assert not any("ladder" in caution for caution in said["cautions"])


def test_nothing_of_the_studios_own_is_in_it(event, planner, studio):
    Studio.objects.update(wage_per_hour="17.93", travel_per_km="0.77", overhead_percent="13.57", margin_percent="38.9")
    event.note = "they haggle"
    event.save()
    proof = issue(event, planner)
    costs = {line[side] for line in proof.estimate.result["costs"] for side in ("low", "high")} - {"0", "0.00"}
    assert costs
    for secret in (
        "17.93",
        "0.77",
        "13.57",
        "38.9",
        "0.389",
        "haggle",
        "margin",
        "wage",
        "overhead",
        "cost",
        "Pat Reed",
    ):
        assert secret not in proof.payload, secret
    lines = {line["amount"] for line in facts(proof)["price"]["lines"]}
    for amount in costs:
        assert f'"{amount}"' not in proof.payload or amount in lines, amount


def test_a_new_version_takes_the_place_of_one_that_waits(event, proof):
    second = issue(event)
    proof.refresh_from_db()
    assert (proof.state, second.state, second.version) == (State.SUPERSEDED, State.WAITING, 2)
    assert Proof.objects.filter(event=event, state=State.WAITING).count() == 1


def test_an_approved_version_stays_on_record_and_the_next_is_not_approved(event, proof, link):
    answer(link)
    second = issue(event)
    proof.refresh_from_db()
    assert (proof.state, second.state) == (State.APPROVED, State.WAITING)
    assert proof.answer.name == "Ada Quill"
    assert proof_intact(proof=proof)


def test_an_enquiry_becomes_quoted_and_later_stages_stay(event):
    issue(event)
    event.refresh_from_db()
    assert event.stage == Stage.QUOTED
    event.stage = Stage.CONFIRMED
    event.save()
    issue(event)
    event.refresh_from_db()
    assert event.stage == Stage.CONFIRMED


@pytest.mark.parametrize("stage", [Stage.LOST, Stage.CANCELLED, Stage.CLOSED])
def test_an_event_that_has_ended_gets_no_proof(event, proof, stage):
    ready = draft_of(event)
    event.stage = stage
    event.save()
    with pytest.raises(ValueError, match="event"):
        proof_issue(
            event=event,
            offer=offer_of(ready.estimate),
            estimate=ready.estimate,
            pieces=ready.shown(),
            valid_until=timezone.localdate() + timedelta(days=5),
            by=None,
        )
    proof.refresh_from_db()
    assert proof.state == State.WAITING and Proof.objects.filter(event=event).count() == 1


def test_bad_input_is_named(event):
    with pytest.raises(ValueError, match="valid_until"):
        issue(event, valid_until=timezone.localdate() - timedelta(days=2))
    with pytest.raises(ValueError, match="pieces"):
        issue(event, pieces=[])
    assert not Proof.objects.exists() and not ProofPicture.objects.exists()


def test_a_change_on_disk_is_noticed(proof):
    file = StoredFile.objects.get(pk=ProofPicture.objects.filter(proof=proof).first().file_id)
    path = file_path(file.name)
    data = path.read_bytes()
    path.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
    assert not proof_intact(proof=proof)
    path.unlink()
    assert not proof_intact(proof=proof)


def test_a_change_in_the_database_is_noticed(proof):
    Proof.objects.filter(pk=proof.pk).update(payload=proof.payload.replace("Quay Hall", "Quay Barn"))
    proof.refresh_from_db()
    assert not proof_intact(proof=proof)


def test_the_same_facts_give_the_same_record(event, planner):
    first, second = issue(event, planner), issue(event, planner)
    one, two = facts(first), facts(second)
    assert one.pop("version") == 1 and two.pop("version") == 2
    assert canonical(one) == canonical(two)
