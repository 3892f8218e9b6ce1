"""Everything a caller says, on one page."""

import secrets
from types import ModuleType
from typing import Any

from django import forms
from django.utils import timezone

from decor.studio.forms import SlipForm
from decor.studio.models import Studio
from decor.studio.numbers import whole
from jobs.designs.catalogue import Catalogue
from jobs.designs.kinds import all_kinds, kind_of
from jobs.designs.models import Piece
from jobs.events.forms import WhenForm
from jobs.events.models import Venue
from jobs.events.times import to_plain

SOMEWHERE = "Somewhere new"
KM_PER_MINUTE = 0.8
"""Distance of a drive of which only the minutes are known (studio default, no source)."""
USUAL_DRIVE_MIN = 30
MOST_SLOTS = 6


class AskWhereForm(SlipForm):
    """One of the known venues, or a few words and the drive to a new one."""

    venue = forms.ModelChoiceField(label="Venue", queryset=Venue.objects.none(), empty_label=SOMEWHERE, required=False)
    name = forms.CharField(label="What it is called", max_length=120, required=False)
    drive_minutes = forms.IntegerField(
        label="Drive, minutes one way", min_value=0, max_value=1440, required=False, help_text="for a new place"
    )
    outdoors = forms.BooleanField(label="It stands outdoors", required=False)

    def __init__(self, *args: object, studio: Studio, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.studio = studio
        self.fields["venue"].queryset = Venue.objects.order_by("name")

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if not self.errors and not given.get("venue") and given.get("drive_minutes") is None:
            self.add_error("drive_minutes", "Say how long the drive is, or choose a known venue.")
        return given

    def json(self) -> dict[str, Any]:
        """As a draft keeps a venue."""
        given = self.cleaned_data
        if given["venue"]:
            return {"id": given["venue"].pk}
        minutes = given["drive_minutes"]
        return {
            "name": given["name"] or SOMEWHERE,
            "indoors": not given["outdoors"],
            "drive_minutes": minutes,
            "distance_km": round(minutes * KM_PER_MINUTE, 1),
            "altitude_m": self.studio.altitude_m,
            "temperature_c": self.studio.temperature_c,
            "time_zone": self.studio.time_zone,
        }

    def zone_venue(self) -> Venue:
        """Whose clock the times are on, as far as is known yet."""
        chosen = self.cleaned_data.get("venue") if self.is_bound and self.is_valid() else None
        return chosen or Venue(time_zone=self.studio.time_zone)


class AskPieceForm(SlipForm):
    count = forms.IntegerField(label="How many", min_value=1, max_value=200, required=False)
    built_at = forms.ChoiceField(label="Built at", choices=Piece.BuiltAt.choices)
    fill = forms.ChoiceField(label="Filled with", choices=Piece.Fill.choices)


class PieceSlot:
    """Room on the page for one line of pieces. It counts when something was entered in it."""

    def __init__(
        self,
        kind: ModuleType,
        number: int,
        data: Any,
        catalogue: Catalogue,
        *,
        slots: int,
        piece: dict[str, Any] | None = None,
    ) -> None:
        self.kind, self.number, self.slots, self.saved = kind, number, slots, piece
        given = piece or {}
        prefix = f"{kind.KEY}-{number}"
        self.common = AskPieceForm(
            data, prefix=prefix, initial={n: given.get(n) for n in ("count", "built_at", "fill")}
        )
        self.common.fields["count"].optional_words = "or none"
        self.rough = kind.RoughForm(
            data,
            prefix=f"{prefix}-rough",
            catalogue=catalogue,
            initial=given.get("measures") or {},
            empty_permitted=True,
            use_required_attribute=False,
        )
        self.data = data

    @property
    def used(self) -> bool:
        """An amount, or any figure that has to be typed; what is only chosen starts out chosen."""
        if self.data is None:
            return self.saved is not None
        typed = [self.common["count"], *(f for f in self.rough if isinstance(f.field, forms.FloatField))]
        return any((self.data.get(field.html_name) or "").strip() for field in typed)

    @property
    def last(self) -> bool:
        return self.number == self.slots - 1

    @property
    def open(self) -> bool:
        return self.used or (self.number == 0 and self.kind is next(iter(all_kinds().values())))

    def is_valid(self) -> bool:
        self.rough.empty_permitted = False
        return all([self.common.is_valid(), self.rough.is_valid()])

    def errors(self) -> list[tuple[str, str, str]]:
        """(field's id, its label, words)"""
        found = [("", self.kind.NAME, str(words)) for words in self.rough.non_field_errors()]
        for form in (self.common, self.rough):
            for field in form:
                found += [(field.auto_id, f"{self.kind.NAME}, {field.label}", str(words)) for words in field.errors]
        return found

    def json(self) -> dict[str, Any]:
        common = self.common.cleaned_data
        return {
            "key": secrets.token_hex(4),
            "kind": self.kind.KEY,
            "count": common["count"] or 1,
            "built_at": common["built_at"],
            "fill": common["fill"],
            "title": self.kind.NAME,
            "measures": self.kind.rough_json(self.rough.cleaned_data),
        }


class AskForms:
    """The page's forms together."""

    def __init__(self, *, studio: Studio, catalogue: Catalogue, data: Any = None, draft: dict[str, Any] | None = None):
        given = draft or {}
        self.bound = data is not None
        self.where = AskWhereForm(data, studio=studio, initial=_where_initial(given.get("venue") or {}))
        venue = self.where.zone_venue() if self.bound else _venue(given.get("venue") or {}, studio)
        today = timezone.localdate(timezone=venue.zone)
        self.when = WhenForm(data, zone=venue.zone, today=today, initial=given.get("when") or USUAL_TIMES)
        self.slots = _slots(data, catalogue, given.get("what") or [])

    def is_valid(self) -> bool:
        found = [self.where.is_valid(), self.when.is_valid(), *(slot.is_valid() for slot in self.used)]
        return all(found) and bool(self.used)

    @property
    def used(self) -> list[PieceSlot]:
        return [slot for slot in self.slots if slot.used]

    def errors(self) -> list[tuple[str, str, str]]:
        if not self.bound:
            return []
        found = []
        for form in (self.when, self.where):
            found += [("", "", str(words)) for words in form.non_field_errors()]
            for field in form:
                found += [(field.auto_id, str(field.label), str(words)) for words in field.errors]
        if not self.used:
            found.append(
                (self.slots[0].common["count"].auto_id, "What goes up", "Say at least one piece and its size.")
            )
        return found + [error for slot in self.used for error in slot.errors()]

    def json(self) -> dict[str, Any]:
        return {
            "when": to_plain(self.when.wanted),
            "venue": self.where.json(),
            "what": [slot.json() for slot in self.used],
        }


USUAL_TIMES = {"load_in": "14:00", "doors": "17:00", "ends": "22:00", "strike": "22:30"}


def _where_initial(venue: dict[str, Any]) -> dict[str, Any]:
    if venue.get("id"):
        return {"venue": venue["id"]}
    name = venue.get("name", "")
    return {
        "name": "" if name == SOMEWHERE else name,
        "drive_minutes": venue.get("drive_minutes", USUAL_DRIVE_MIN),
        "outdoors": not venue.get("indoors", True),
    }


def _venue(venue: dict[str, Any], studio: Studio) -> Venue:
    found = Venue.objects.filter(pk=venue["id"]).first() if venue.get("id") else None
    return found or Venue(time_zone=venue.get("time_zone") or studio.time_zone)


def _slots(data: Any, catalogue: Catalogue, pieces: list[dict[str, Any]]) -> list[PieceSlot]:
    """For each kind what was entered and, on asking, one more."""
    slots = []
    for kind in all_kinds().values():
        saved = [piece for piece in pieces if kind_of(piece["kind"]) is kind]
        wanted = max(1, len(saved))
        if data is not None:
            shown = whole(data.get(f"{kind.KEY}-slots", ""))
            wanted = max(wanted, shown) + (data.get("more") == kind.KEY)
        wanted = min(wanted, MOST_SLOTS)
        for number in range(wanted):
            piece = saved[number] if data is None and number < len(saved) else None
            slots.append(PieceSlot(kind, number, data, catalogue, slots=wanted, piece=piece))
    return slots
