"""What a booking has so far, and what it means. A draft is plain JSON, so that Back, a dead battery or a second
phone loses nothing; here it becomes clients, venues, spans and pieces, saved or not."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db import transaction

from decor.studio.models import Studio, User
from jobs.clients.models import Client
from jobs.desk.models import BookingDraft
from jobs.events import times
from jobs.events.models import Venue
from jobs.events.services import VENUE_FIELDS

STEPS = ("who", "where", "when", "what", "check")
PIECE_KEYS = ("kind", "count", "built_at", "fill", "title", "measures")
NEW_CLIENT_KEYS = ("name", "organisation", "phone", "email")


class Booked(Exception):
    """The draft became an event; there is nothing left to change in it."""


@transaction.atomic
def draft_start(*, user: User, purpose: str, data: dict[str, Any] | None = None) -> BookingDraft:
    """An untouched draft of theirs is taken up again rather than left lying beside a new one."""
    if not data:
        idle = BookingDraft.objects.filter(user=user, purpose=purpose, event=None, data={}).first()
        if idle:
            return idle
    return BookingDraft.objects.create(user=user, purpose=purpose, data=data or {})


@transaction.atomic
def draft_change(*, draft: BookingDraft, change: Callable[[dict[str, Any]], None]) -> BookingDraft:
    """Under a lock, so that two phones on one draft each lose only what both of them changed. Raises Booked."""
    row = BookingDraft.objects.select_for_update().get(pk=draft.pk)
    if row.event_id:
        raise Booked
    change(row.data)
    row.save()
    draft.data = row.data
    return draft


def draft_save(*, draft: BookingDraft, **parts: object) -> BookingDraft:
    return draft_change(draft=draft, change=lambda data: data.update(parts))


def draft_drop(*, draft: BookingDraft) -> None:
    """One that was booked stays, so that its second tap still finds the event."""
    BookingDraft.objects.filter(pk=draft.pk, event=None).delete()


def draft_of(pk: UUID, user: User) -> BookingDraft | None:
    return BookingDraft.objects.filter(pk=pk, user=user).select_related("event").first()


def unfinished(user: User) -> list[BookingDraft]:
    drafts = BookingDraft.objects.filter(user=user, purpose="book", event=None).exclude(data={})
    return list(drafts.order_by("-updated")[:3])


def draft_client(draft: BookingDraft) -> Client | None:
    """The chosen client, or an unsaved one from what was entered; None while there is neither."""
    given = draft.data.get("client") or {}
    if given.get("id"):
        return Client.objects.filter(pk=given["id"]).first()
    return Client(**{k: given[k] for k in NEW_CLIENT_KEYS if k in given}) if given.get("name") else None


def draft_venue(draft: BookingDraft) -> Venue | None:
    given = draft.data.get("venue") or {}
    if given.get("id"):
        return Venue.objects.filter(pk=given["id"]).first()
    if not given.get("name"):
        return None
    venue = Venue(**{k: given[k] for k in VENUE_FIELDS if k in given})
    if not venue.time_zone:
        studio = Studio.objects.order_by("pk").first()
        venue.time_zone = studio.time_zone if studio else "UTC"
    return venue


def draft_span(draft: BookingDraft, venue: Venue | None = None) -> times.Span | None:
    """In UTC; None while the times are missing or cannot be at this venue (its zone may have changed since)."""
    venue = venue or draft_venue(draft)
    if venue is None:
        return None
    try:
        return times.span_of(times.from_plain(draft.data["when"]), venue.zone)
    except (KeyError, TypeError, ValueError):
        return None


def draft_pieces(draft: BookingDraft) -> list[dict[str, Any]]:
    return [{k: piece[k] for k in PIECE_KEYS if k in piece} for piece in draft.data.get("what") or []]


def what_is_settled(draft: BookingDraft) -> bool:
    return bool(draft.data.get("what") or draft.data.get("what_later"))


def first_missing(draft: BookingDraft) -> str | None:
    """The first screen whose answer is missing, None when all can be checked and saved."""
    venue = draft_venue(draft)
    settled = {
        "who": draft_client(draft) is not None,
        "where": venue is not None,
        "when": draft_span(draft, venue) is not None,
        "what": what_is_settled(draft),
    }
    return next((step for step, done in settled.items() if not done), None)


def suggested_title(draft: BookingDraft) -> str:
    client, venue = draft_client(draft), draft_venue(draft)
    names = [client.organisation or client.name if client else "", venue.name if venue else ""]
    return ", ".join(name for name in names if name)[:120]
