"""The colours of a panel's picture: tried out beside their price, and taken over."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from decor.studio.pictures import PictureRefused
from decor.studio.requests import once
from decor.studio.services import audit_add, file_read
from decor.studio.versions import Changed
from jobs.designs import changed, services
from jobs.designs.catalogue import catalogue_now
from jobs.designs.forms import entered_and_stored
from jobs.designs.models import PanelDraft, Piece
from jobs.designs.pictures import drafts
from jobs.designs.pictures.aiming import MakingRefused
from jobs.designs.pictures.buying import bought
from jobs.designs.pictures.colours_form import ColoursForm
from jobs.designs.pictures.keeping import gone_words
from jobs.designs.pictures.looks import buy_look, look_of
from jobs.designs.pictures.making import Made, made
from jobs.designs.pictures.recipe import Recipe, RecipeRefused
from jobs.designs.views import found_piece

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

    def met(self) -> list[tuple[str, str, str]]:
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


@once
def colours(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    try:
        desk = Desk(request, event, piece)
    except (ValueError, RecipeRefused) as refusal:
        return _nothing(request, panel_piece(event, piece), str(refusal))
    if desk.draft.recipe["source"] == "picture" and not desk.draft.picture_id and not hasattr(desk.piece, "panel"):
        return _nothing(request, desk.piece, "")
    if request.method != "POST":
        return _page(desk, desk.made())
    act = request.POST.get("act", "look")
    if act == "drop":
        return _drop(desk)
    done = desk.made()
    if done is None:
        return _page(desk, None, status=422)
    if act == "buy":
        return _page(desk, done, buy=_buy(desk))
    try:
        desk.keep()
        if act != "use":
            return _page(desk, done)
        _take_over(desk, done)
    except Changed:
        return _page(desk, done, status=409, differences=desk.met())
    return redirect("jobs:piece", event=event, piece=piece)


def _nothing(request: HttpRequest, piece: Piece, refusal: str) -> HttpResponse:
    context = {"tab": "events", "piece": piece, "event": piece.event, "refusal": refusal}
    return render(request, "jobs/designs/colours_nothing.html", context)


def _page(desk: Desk, done: Made | None, *, status: int = 200, buy: Any = None, **extra: Any) -> HttpResponse:
    context = {
        "tab": "events",
        "piece": desk.piece,
        "event": desk.piece.event,
        "draft": desk.draft,
        "form": desk.form,
        "forms": [desk.form],
        "error_count": sum(len(words) for words in desk.form.errors.values()),
        "look": look_of(done, desk.form, desk.catalogue, desk.piece) if done else None,
        "buy": buy,
        "goes": desk.goes(done),
    }
    return render(desk.request, "jobs/designs/colours.html", context | extra, status=status)


def _take_over(desk: Desk, done: Made) -> None:
    """Raises Changed."""
    drafts.draft_take_over(
        draft=desk.draft,
        version=desk.draft.version,
        panel_version=desk.form.cleaned_data["panel_version"],
        made=done,
    )
    audit_add(request=desk.request, act="used another chart", subject=f"{desk.piece.event}: {desk.piece}")
    kept = ""
    if done.kept:
        kept = f" {'One cell' if done.kept == 1 else f'{done.kept:,} cells'} painted by hand or locked stayed."
    changed.say(desk.request, desk.piece.event_id, f"The chart is in use.{kept} {gone_words(done.gone)}".strip())


def _drop(desk: Desk) -> HttpResponse:
    try:
        drafts.draft_drop(draft=desk.draft, version=int(desk.form.data.get("version") or 0))
    except (Changed, ValueError):
        desk.form.is_valid()
        return _page(desk, None, status=409, differences=desk.met())
    desk.request.session["outcome"] = "The draft is dropped; the chart is as it was."
    return redirect("jobs:piece", event=desk.piece.event_id, piece=desk.piece.pk)


@require_POST
def colours_look(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The preview of what is being chosen, kept in the draft as it goes; what is refused is said beside its cause."""
    try:
        desk = Desk(request, event, piece)
    except ValueError as refusal:
        return HttpResponse(str(refusal), status=422, content_type="text/plain")
    done, differences = desk.made(), None
    if done is not None:
        try:
            desk.keep()
        except Changed:
            differences = desk.met()
    context = {
        "piece": desk.piece,
        "event": desk.piece.event,
        "draft": desk.draft,
        "form": desk.form,
        "slots": desk.form.slots(),
        "others": desk.form.others(),
        "look": look_of(done, desk.form, desk.catalogue, desk.piece) if done else None,
        "differences": differences,
        "goes": desk.goes(done),
        "swapped": True,
    }
    answer = render(request, "jobs/designs/_colours_preview.html", context, status=422 if done is None else 200)
    if done is not None:
        answer["HX-Trigger-After-Settle"] = "figures"  # cost and hours are asked for anew
    return answer


@require_POST
def colours_buy(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """What would have to be bought, beside what would be best if everything were free."""
    try:
        desk = Desk(request, event, piece)
    except ValueError as refusal:
        return HttpResponse(str(refusal), status=422, content_type="text/plain")
    buy = None if desk.made() is None else _buy(desk)
    context = {"piece": desk.piece, "event": desk.piece.event, "buy": buy, "form": desk.form}
    return render(request, "jobs/designs/_colours_buy.html", context, status=200 if buy else 422)


def _buy(desk: Desk) -> Any:
    picture = picture_of(desk.draft)
    done = bought(desk.recipe, picture, catalogue=desk.catalogue, piece=desk.piece, free=desk.form.free)
    return buy_look(done, desk.catalogue, desk.piece)


@require_POST
@once
def chart_put_back(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The chart that stood before the one that is in use."""
    found = panel_piece(event, piece)
    panel = getattr(found, "panel", None)
    if panel is None:
        raise Http404
    try:
        services.chart_put_back(panel=panel, version=int(request.POST.get("version") or 0))
    except services.NothingEarlier as refusal:
        request.session["outcome"] = str(refusal)
    except (Changed, ValueError):
        request.session["outcome"] = "Somebody else changed this chart meanwhile; nothing was put back. Look again."
    else:
        audit_add(request=request, act="put the earlier chart back", subject=f"{found.event}: {found}")
        changed.say(request, event, "The earlier chart is back; the other one can be put back in the same way.")
    return redirect("jobs:piece", event=event, piece=piece)
