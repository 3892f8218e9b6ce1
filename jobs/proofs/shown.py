"""A frozen proof version as a page shows it: what was recorded, read back and never worked out again."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone

from jobs.events.models import ENDED, Event
from jobs.proofs.models import Proof, ProofAnswer, ProofPicture
from jobs.proofs.services import facts, offer_ran_out


def newest(event: Event) -> Proof | None:
    return _with_answers(event).order_by("-version").first()


def answered_before(event: Event, proof: Proof) -> list[Proof]:
    """Earlier versions that have an answer: the client may look up what was said."""
    return list(_with_answers(event).filter(version__lt=proof.version, answer__isnull=False).order_by("-version"))


def _with_answers(event: Event) -> Any:
    return Proof.objects.filter(event=event).select_related("answer")


def proof_context(proof: Proof, event: Event, picture_url: Callable[[int], str]) -> dict[str, Any]:
    record = facts(proof)
    answer = getattr(proof, "answer", None)
    waiting = proof.state == Proof.State.WAITING
    ended, late = event.stage in ENDED, offer_ran_out(proof, event)
    return {
        "proof": proof,
        "facts": record,
        "on": date.fromisoformat(record["event"]["date"]),
        "valid_until": date.fromisoformat(record["valid_until"]),
        "zone": record["event"]["zone"],
        "pieces": list(zip(record["pieces"], _pictures(proof, record, picture_url), strict=True)),
        "answer": answer,
        "deposit_due": deposit_due(record, answer),
        "may_answer": waiting and not ended,
        "may_approve": waiting and not ended and not late,
        "ran_out": waiting and not ended and late,
        "event_ended": ended,
    }


def _pictures(proof: Proof, record: dict[str, Any], picture_url: Callable[[int], str]) -> list[dict[str, Any] | None]:
    files = iter(ProofPicture.objects.filter(proof=proof).select_related("file"))
    found: list[dict[str, Any] | None] = []
    for piece in record["pieces"]:
        file = next(files).file if piece["picture"] else None
        found.append(file and {"url": picture_url(file.pk), "width": file.width_px, "height": file.height_px})
    return found


def deposit_due(record: dict[str, Any], answer: ProofAnswer | None) -> date | None:
    if answer is None or answer.action != ProofAnswer.Action.APPROVE or record["price"]["deposit"] == "0.00":
        return None
    said_on = timezone.localdate(answer.at, timezone=ZoneInfo(answer.zone))
    return said_on + timedelta(days=record["price"]["deposit_days"])
