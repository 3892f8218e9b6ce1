"""Booking: a draft becomes an event, once."""

from typing import Any

from django.db import transaction

from jobs.clients.models import Client
from jobs.clients.services import client_add
from jobs.designs.services import pieces_from_rough
from jobs.desk import drafts
from jobs.desk.answer import draft_pieces_laid
from jobs.desk.models import BookingDraft
from jobs.events.models import Event, Venue
from jobs.events.services import event_add, venue_add


class NotReady(ValueError):
    """An answer is missing; `step` is its screen."""

    def __init__(self, step: str) -> None:
        super().__init__(f"draft has no answer to {step}")
        self.step = step


def event_book(*, draft: BookingDraft, title: str = "", note: str = "") -> Event:
    """The event of this draft, made now or, on a second tap, found again: the draft's row is locked and keeps its
    event, so it can be booked once. A new client or venue is kept with it, or neither is. Raises NotReady."""
    # Before the row is locked: an answer is worked out for it.
    said, laid = drafts.draft_pieces(draft), draft_pieces_laid(draft)
    return _event_book(draft, title, note, said, laid)


@transaction.atomic
def _event_book(
    draft: BookingDraft, title: str, note: str, said: list[dict[str, Any]], laid: list[dict[str, Any]]
) -> Event:
    row = BookingDraft.objects.select_for_update().get(pk=draft.pk)
    if row.event_id:
        return Event.objects.get(pk=row.event_id)
    if step := drafts.first_missing(row):
        raise NotReady(step)
    client, venue = _client_kept(row), _venue_kept(row)
    span = drafts.draft_span(row, venue)
    if span is None:
        raise NotReady("when")
    title = title or drafts.suggested_title(row)
    event = event_add(title=title, client=client, venue=venue, span=span, note=note)
    pieces = drafts.draft_pieces(row)
    pieces_from_rough(event, laid if pieces == said else pieces)
    row.event, row.purpose = event, "book"
    row.save()
    return event


def _client_kept(draft: BookingDraft) -> Client:
    client = drafts.draft_client(draft)
    if client is None:
        raise NotReady("who")
    if client.pk:
        return client
    return client_add(name=client.name, organisation=client.organisation, phone=client.phone, email=client.email)


def _venue_kept(draft: BookingDraft) -> Venue:
    venue = drafts.draft_venue(draft)
    if venue is None:
        raise NotReady("where")
    return venue if venue.pk else venue_add(venue=venue)
