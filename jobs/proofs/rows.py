from dataclasses import replace

from django.urls import reverse

from decor.studio.templatetags.desk import day_words, money_words
from jobs.estimates.known import Known
from jobs.events.models import Event, Stage
from jobs.events.rows import Row
from jobs.proofs.models import Proof, ProofLink
from jobs.proofs.services import facts, offer_ran_out
from jobs.proofs.shown import deposit_due, newest

State = Proof.State
OPEN = (Stage.ENQUIRY, Stage.QUOTED)


def glance_row(event: Event, known: Known | None = None) -> Row:
    proof = newest(event)
    url = reverse("jobs:event-proof", args=[event.pk])
    if proof is None:
        return _none_yet(known or Known(event), url)
    version = f"Version {proof.version}"
    answer = getattr(proof, "answer", None)
    if answer is None:
        return _waiting(proof, event, version, url)
    small = f"{answer.name}: {answer.comment}" if answer.comment else answer.name
    if proof.state == State.APPROVED:
        confirm = ("Confirm the event", reverse("jobs:event-stock", args=[event.pk])) if event.stage in OPEN else None
        return Row("Proof", version, small, "ok", "Approved", url, confirm, urgency=65 if confirm else 0)
    again = (f"Make version {proof.version + 1} of the proof", reverse("jobs:proof-new", args=[event.pk]))
    if proof.state == State.CHANGE:
        return Row("Proof", version, small, "warn", "Change asked for", url, again, urgency=70)
    # Before anything more is bought or held for it.
    lost = ("Say whether it is lost", reverse("jobs:event-stage", args=[event.pk]))
    return Row("Proof", version, small, "no", "Declined", url, lost, urgency=95)


def price_told(event: Event, row: Row) -> Row:
    """What the client was told or agreed to stands before what the estimate says."""
    proof = newest(event)
    if proof is None or proof.state not in {State.APPROVED, State.WAITING}:
        return row
    total = f"{money_words(proof.total, proof.currency)} with tax"
    if proof.state == State.WAITING:
        return replace(row, stands=total, small=f"in version {proof.version} of the proof; {row.small}")
    small = _deposit_words(proof)
    if row.state == "no":
        return replace(row, stands=total)
    if row.act:
        return replace(row, stands=total, small=f"{small}; its estimate is older than the event")
    return replace(row, stands=total, small=small, state="ok", state_words="Agreed")


def _deposit_words(proof: Proof) -> str:
    record = facts(proof)
    due = deposit_due(record, proof.answer)
    if due is None:
        return "no deposit"
    return f"deposit {money_words(record['price']['deposit'], proof.currency)} due by {day_words(due)}"


def _none_yet(known: Known, url: str) -> Row:
    if known.finished is None:
        return Row("Proof", "None yet", "It takes an estimate first.", url=url)
    act = ("Make the proof", reverse("jobs:proof-new", args=[known.event.pk]))
    return Row("Proof", "None yet", url=url, act=act, urgency=30)


def _waiting(proof: Proof, event: Event, version: str, url: str) -> Row:
    names = list(
        ProofLink.objects.filter(event=event, revoked=False).order_by("pk").values_list("recipient", flat=True)
    )
    if offer_ran_out(proof, event):
        again = (f"Make version {proof.version + 1} of the proof", reverse("jobs:proof-new", args=[event.pk]))
        return Row("Proof", version, "The offer ran out without an answer.", "no", "Ran out", url, again, urgency=50)
    if not names:
        return Row("Proof", version, "Nobody has a link yet.", "none", "Not sent", url, ("Send the proof", url), 40)
    until = f"good until {proof.valid_until.day} {proof.valid_until:%B}"
    return Row("Proof", version, f"with {', '.join(names)}, {until}", "off", "Waits for an answer", url)
