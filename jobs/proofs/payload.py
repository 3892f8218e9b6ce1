"""The frozen record of a proof version: client-facing facts only, in one canonical form.

Amounts are texts and counts are whole numbers, never floats, so that the same facts give the same bytes anywhere."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from decor.studio.models import Studio
from jobs.events.models import Event
from jobs.money.offers import Offer

FORMAT = 1


@dataclass(frozen=True)
class Colour:
    """`hex` is empty where no colour is chosen yet."""

    name: str
    hex: str
    count: int


@dataclass(frozen=True)
class Picture:
    mime: str
    data: bytes
    width_px: int
    height_px: int

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True)
class ShownPiece:
    """One piece as the client sees it; `balloons` and `colours` count all of its `count` alike ones."""

    title: str
    count: int
    size: str
    balloons: int
    colours: tuple[Colour, ...]
    picture: Picture | None


@dataclass(frozen=True)
class Notes:
    included: str
    cautions: tuple[str, ...]


def canonical(payload: Mapping[str, Any]) -> str:
    """Sorted keys, no white space, characters as themselves."""
    return json.dumps(payload, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def pictures_sha256(hashes: Sequence[str]) -> str:
    """One hash over all pictures: of their hashes in order, a line each."""
    return sha256("\n".join(hashes))


def payload_of(
    *,
    studio: Studio,
    event: Event,
    version: int,
    offer: Offer,
    pieces: Sequence[ShownPiece],
    notes: Notes,
    valid_until: date,
) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "version": version,
        "studio": {"name": studio.name, "phone": studio.phone, "email": studio.email},
        "event": _event(event),
        "venue": {"name": event.venue.name, "address": event.venue.address},
        "pieces": [_piece(piece) for piece in pieces],
        "price": _price(offer, studio.deposit_days),
        "valid_until": valid_until.isoformat(),
        "included": notes.included,
        "not_included": studio.not_included,
        "terms": studio.terms,
        "cautions": list(notes.cautions),
    }


def _event(event: Event) -> dict[str, str]:
    doors, ends = event.doors.astimezone(event.zone), event.ends.astimezone(event.zone)
    return {
        "title": event.title,
        "date": doors.date().isoformat(),
        "doors": f"{doors:%H:%M}",
        "ends": f"{ends:%H:%M}",
        "ends_on": ends.date().isoformat(),
        "zone": event.venue.time_zone,
    }


def _piece(piece: ShownPiece) -> dict[str, Any]:
    picture = piece.picture
    return {
        "title": piece.title,
        "count": piece.count,
        "size": piece.size,
        "balloons": piece.balloons,
        "colours": [{"name": c.name, "hex": c.hex, "count": c.count} for c in piece.colours],
        "picture": {"mime": picture.mime, "sha256": picture.sha256} if picture else None,
    }


def _price(offer: Offer, deposit_days: int) -> dict[str, Any]:
    return {
        "lines": [{"title": title, "amount": _amount(amount)} for title, amount in offer.lines],
        "net": _amount(offer.net),
        "tax": _amount(offer.tax),
        "tax_percent": format(offer.tax_percent.normalize(), "f"),
        "total": _amount(offer.total),
        "currency": offer.currency,
        "deposit": _amount(offer.deposit),
        "deposit_days": deposit_days,
    }


def _amount(amount: Decimal) -> str:
    return f"{amount:.2f}"
