"""One request's panel: its draft, the form over it, and what both its pages and their previews do with them."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from decor.studio.pictures import PictureRefused
from decor.studio.services import audit_add, file_read
from decor.studio.versions import Changed
from jobs.designs import changed
from jobs.designs.catalogue import catalogue_now
from jobs.designs.forms import entered_and_stored
from jobs.designs.models import PanelDraft, Piece
from jobs.designs.pictures import drafts
from jobs.designs.pictures.aiming import MakingRefused
from jobs.designs.pictures.colours_form import ColoursForm
from jobs.designs.pictures.keeping import gone_words
from jobs.designs.pictures.making import Made, made
from jobs.designs.pictures.recipe import Recipe
from jobs.designs.views import found_piece

Differences = list[tuple[str, str, str]]

PICTURE_GONE = "The picture is no longer on the disk. Choose it again under Picture, size and colours."


def panel_piece(event: int, piece: int) -> Piece:
    found = found_piece(event, piece)
    if found.kind != "panel":
        raise Http404
    return found


def picture_of(draft: PanelDraft) -> bytes | None:
    """Raises MakingRefused where the disk has lost it."""
    try:
        return file_read(file=draft.picture) if draft.picture_id else None
    except FileNotFoundError:
        raise MakingRefused("picture", PICTURE_GONE) from None


class Desk:
    """One request's panel: its draft, the recipe that it holds, and the form over both."""

    def __init__(self, request: HttpRequest, event: int, piece: int) -> None:
        self.request = request
        self.piece, self.catalogue = panel_piece(event, piece), catalogue_now()
        self.draft = drafts.draft_of(piece=self.piece, catalogue=self.catalogue)
        self.form = self._form(self.draft, request.POST if request.method == "POST" else None)

    def _form(self, draft: PanelDraft, data: Any = None) -> ColoursForm:
        recipe = Recipe.from_plain(draft.recipe)
        return ColoursForm(data, piece=self.piece, draft=draft, recipe=recipe, catalogue=self.catalogue)

    @property
    def recipe(self) -> Recipe:
        valid = self.form.is_bound and self.form.is_valid()
        return self.form.recipe() if valid else Recipe.from_plain(self.draft.recipe)

    def made(self) -> Made | None:
        """None where it is refused: the form says why."""
        if self.form.is_bound and not self.form.is_valid():
            return None
        try:
            picture = picture_of(self.draft)
            return made(self.recipe, picture, catalogue=self.catalogue, piece=self.piece, free=self.form.free)
        except MakingRefused as refusal:
            self._refuse(refusal.about, refusal.message)
        except PictureRefused as refusal:
            self._refuse("picture", refusal.message)
        return None

    def goes(self, done: Made | None) -> int:
        """Cells painted by hand or locked that using this chart would let go."""
        return done.gone if done else 0

    def _refuse(self, about: str, message: str) -> None:
        if not self.form.is_bound:  # what is stored cannot be made: said on the page as it is opened
            self.form = self._form(self.draft, _as_sent(self.form))
            self.form.is_valid()
        self.form.refuse(about, message)

    def keep(self) -> None:
        """What was chosen, in the draft. Raises Changed."""
        recipe, version = self.form.recipe(), self.form.cleaned_data["version"]
        if self.draft.version != version:
            raise Changed(self.draft)
        if recipe.to_plain() != self.draft.recipe:
            drafts.draft_change(draft=self.draft, version=version, recipe=recipe)

    def kept(self) -> Differences | None:
        """As `keep`; where somebody changed the draft meanwhile, what differs."""
        try:
            self.keep()
        except Changed:
            return self.met()
        return None

    def use(self, done: Made) -> HttpResponse:
        """The draft's chart is the panel's from now on. Raises Changed."""
        version, panel_version = self.draft.version, self.form.cleaned_data["panel_version"]
        drafts.draft_take_over(draft=self.draft, version=version, panel_version=panel_version, made=done)
        audit_add(request=self.request, act="used another chart", subject=f"{self.piece.event}: {self.piece}")
        kept = ""
        if done.kept:
            kept = f" {'One cell' if done.kept == 1 else f'{done.kept:,} cells'} painted by hand or locked stayed."
        words = f"The chart is in use.{kept} {gone_words(done.gone)}".strip()
        changed.say(self.request, self.piece.event_id, words)
        return redirect("jobs:piece", event=self.piece.event_id, piece=self.piece.pk)

    def dropped(self) -> HttpResponse | None:
        """None where somebody changed the draft meanwhile."""
        try:
            drafts.draft_drop(draft=self.draft, version=int(self.form.data.get("version") or 0))
        except (Changed, ValueError):
            self.form.is_valid()
            return None
        self.request.session["outcome"] = "The draft is dropped; the chart is as it was."
        return redirect("jobs:piece", event=self.piece.event_id, piece=self.piece.pk)

    def previewed(self, template: str, done: Made | None, context: dict[str, Any]) -> HttpResponse:
        """What is being chosen, as it goes; cost and hours are asked for anew beside it."""
        status = 422 if done is None else 200
        answer = render(self.request, template, {**context, "swapped": True}, status=status)
        if done is not None:
            answer["HX-Trigger-After-Settle"] = "figures"
        return answer

    def met(self) -> Differences:
        """After Changed: yours and theirs, and the next sending counts from theirs."""
        yours = self.form
        self.piece = panel_piece(self.piece.event_id, self.piece.pk)
        self.draft = drafts.draft_of(piece=self.piece, catalogue=self.catalogue)
        theirs = self._form(self.draft)
        data = self.request.POST.copy()
        data["version"], data["panel_version"] = theirs.initial["version"], theirs.initial["panel_version"]
        self.form = self._form(self.draft, data)
        self.form.is_valid()
        return [row for row in entered_and_stored(yours, theirs) if row[0] not in ("Version", "Panel version")]


def _as_sent(form: ColoursForm) -> dict[str, Any]:
    return {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
