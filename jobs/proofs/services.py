"""Issuing proofs, handing out their links, taking the client's answer."""

import hashlib
import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from decor.studio.models import StoredFile, Studio, User
from decor.studio.services import file_read, file_store
from jobs.estimates.models import Estimate
from jobs.events.models import ENDED, Event, Stage
from jobs.events.services import event_stage_set
from jobs.money.offers import Offer
from jobs.proofs import words
from jobs.proofs.links import link_token, token_hash
from jobs.proofs.models import Proof, ProofAnswer, ProofLink, ProofPicture
from jobs.proofs.payload import (
    Notes,
    ShownPiece,
    canonical,
    payload_of,
    pictures_sha256,
    sha256,
)

__all__ = ["link_token", "proof_answer", "proof_issue", "proof_link_make", "proof_link_revoke"]

Action = ProofAnswer.Action
STATE_AFTER = {
    Action.APPROVE: Proof.State.APPROVED,
    Action.CHANGE: Proof.State.CHANGE,
    Action.DECLINE: Proof.State.DECLINED,
}


class ProofRefused(Exception):
    """The answer does not count; the subclass says why."""


class NewerVersion(ProofRefused):
    pass


class AlreadyAnswered(ProofRefused):
    pass


class OfferRanOut(ProofRefused):
    pass


class EventEnded(ProofRefused):
    pass


class LinkDead(ProofRefused):
    pass


@dataclass(frozen=True)
class Evidence:
    """What is known of how an answer arrived."""

    ip: str | None = None
    agent: str = ""
    locale: str = ""
    request_key: str = ""


def proof_issue(
    *,
    event: Event,
    offer: Offer,
    estimate: Estimate,
    pieces: Sequence[ShownPiece],
    valid_until: date,
    by: User | None,
) -> Proof:
    """The event's next version, waiting for an answer; one that waits now is replaced. An approved one stays on
    record, and says nothing about this one.

    Raises ValueError naming `pieces` when there are none, `event` when it has ended, `valid_until` when it is past.
    """
    if not pieces:
        raise ValueError("pieces must hold at least one piece")
    if valid_until < timezone.localdate(timezone=event.zone):
        raise ValueError("valid_until must not be in the past")
    # Files before the transaction: a write lock must not wait for a disk.
    files = [_store(piece) for piece in pieces]
    with transaction.atomic():
        event = Event.objects.select_for_update().get(pk=event.pk)
        if event.stage in ENDED:
            raise ValueError("event has ended")
        proof = _next_version(event, offer, estimate, pieces, valid_until, by)
        ProofPicture.objects.bulk_create(
            ProofPicture(proof=proof, title=piece.title, file=file, sha256=file.sha256, position=at)
            for at, (piece, file) in enumerate(zip(pieces, files, strict=True))
            if file is not None
        )
        if event.stage == Stage.ENQUIRY:
            event_stage_set(event=event, stage=Stage.QUOTED, allowed=(Stage.ENQUIRY,))
    return proof


def _store(piece: ShownPiece) -> StoredFile | None:
    picture = piece.picture
    if picture is None:
        return None
    return file_store(data=picture.data, mime=picture.mime, width_px=picture.width_px, height_px=picture.height_px)


def _next_version(
    event: Event,
    offer: Offer,
    estimate: Estimate,
    pieces: Sequence[ShownPiece],
    valid_until: date,
    by: User | None,
) -> Proof:
    earlier = Proof.objects.filter(event=event)
    version = (earlier.aggregate(last=Max("version"))["last"] or 0) + 1
    earlier.filter(state=Proof.State.WAITING).update(state=Proof.State.SUPERSEDED)
    studio = Studio.objects.order_by("pk").get()
    payload = canonical(
        payload_of(
            studio=studio,
            event=event,
            version=version,
            offer=offer,
            pieces=pieces,
            notes=notes_of(estimate),
            valid_until=valid_until,
        )
    )
    return Proof.objects.create(
        event=event,
        version=version,
        payload=payload,
        payload_sha256=sha256(payload),
        total=offer.total,
        currency=offer.currency,
        valid_until=valid_until,
        estimate=estimate,
        made_by=by,
    )


def notes_of(estimate: Estimate) -> Notes:
    result = estimate.result or {}
    return Notes(
        included=words.included_words({task["kind"] for task in result["tasks"]}),
        cautions=tuple(words.cautions_for_client(result["cautions"])),
    )


@transaction.atomic
def proof_link_make(*, event: Event, recipient: str) -> ProofLink:
    """A link of its own for each recipient, so that one can be revoked without the others."""
    # The token needs the row's number, so the row begins with a hash that no token has.
    link = ProofLink.objects.create(
        event=event, recipient=recipient, nonce=secrets.token_urlsafe(32), token_hash=secrets.token_hex(32)
    )
    link.token_hash = token_hash(link_token(link))
    link.save(update_fields=["token_hash"])
    return link


def proof_link_revoke(*, link: ProofLink) -> ProofLink:
    ProofLink.objects.filter(pk=link.pk).update(revoked=True)
    link.revoked = True
    return link


def proof_answer(
    *, link: ProofLink, proof_version: int, action: str, name: str, comment: str, evidence: Evidence
) -> ProofAnswer:
    """The client's answer to exactly this version. Of two that arrive together, one counts.

    Raises ProofRefused; ValueError naming `name`, `comment` or `action` when one is missing or unknown.
    """
    act = Action(action)
    if not name.strip():
        raise ValueError("name must not be empty")
    if act == Action.CHANGE and not comment.strip():
        raise ValueError("comment must say what to change")
    with transaction.atomic():
        link = _live_link(link)
        proof = Proof.objects.filter(event=link.event, version=proof_version).first()
        _check_answerable(proof, link.event, act)
        assert proof is not None
        # The guard: whoever changes the row has answered, everybody else is too late.
        changed = Proof.objects.filter(pk=proof.pk, state=Proof.State.WAITING).update(state=STATE_AFTER[act])
        if not changed:
            proof.refresh_from_db()
            raise _too_late(proof)
        return _record(link, proof, act, name.strip(), comment.strip(), evidence)


def _live_link(link: ProofLink) -> ProofLink:
    """Read again under lock: it may have been revoked since the page was opened."""
    # Without its event: joined to it, PostgreSQL would keep the event as it was before the wait for the lock.
    found = ProofLink.objects.select_for_update().filter(pk=link.pk).first()
    if not isinstance(found, ProofLink) or not found.lives(timezone.now()):
        raise LinkDead
    return found


def _check_answerable(proof: Proof | None, event: Event, action: Action) -> None:
    if proof is None:
        raise NewerVersion
    if proof.state != Proof.State.WAITING:
        raise _too_late(proof)
    if event.stage in ENDED:
        raise EventEnded
    if action == Action.APPROVE and offer_ran_out(proof, event):
        raise OfferRanOut


def _too_late(proof: Proof) -> ProofRefused:
    return NewerVersion() if proof.state == Proof.State.SUPERSEDED else AlreadyAnswered()


def offer_ran_out(proof: Proof, event: Event) -> bool:
    """`valid_until` is a whole day at the venue."""
    return timezone.localdate(timezone=event.zone) > proof.valid_until


def _record(link: ProofLink, proof: Proof, action: Action, name: str, comment: str, evidence: Evidence) -> ProofAnswer:
    hashes = list(ProofPicture.objects.filter(proof=proof).values_list("sha256", flat=True))
    return ProofAnswer.objects.create(
        proof=proof,
        link=link,
        recipient=link.recipient,
        action=action,
        name=name[:120],
        comment=comment,
        sentence=words.intent(action, facts(proof)),
        payload_sha256=proof.payload_sha256,
        pictures_sha256=pictures_sha256(hashes),
        total=proof.total,
        currency=proof.currency,
        zone=link.event.venue.time_zone,
        ip=evidence.ip,
        agent=evidence.agent[:300],
        locale=evidence.locale[:60],
        request_key=evidence.request_key[:64],
    )


def facts(proof: Proof) -> dict[str, Any]:
    """The payload as it was frozen."""
    loaded: dict[str, Any] = json.loads(proof.payload)
    return loaded


def proof_intact(*, proof: Proof) -> bool:
    """Whether the stored text and picture bytes are still those whose hashes were recorded."""
    pictures = list(ProofPicture.objects.filter(proof=proof).select_related("file"))
    if sha256(proof.payload) != proof.payload_sha256:
        return False
    shown = [piece["picture"]["sha256"] for piece in facts(proof)["pieces"] if piece["picture"]]
    if shown != [picture.sha256 for picture in pictures]:
        return False
    return all(_bytes_match(picture) for picture in pictures)


def _bytes_match(picture: ProofPicture) -> bool:
    try:
        return hashlib.sha256(file_read(file=picture.file)).hexdigest() == picture.sha256
    except OSError:
        return False
