"""A panel's picture framed: seen as cells while it is cropped, turned and lit, and handed on to its colours."""

from dataclasses import replace
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_POST, require_safe

from decor.calc.picture.lattice import MOST_CELLS
from decor.studio.pictures import PictureRefused, is_see_through, seen_picture
from decor.studio.requests import once
from decor.studio.services import file_read, file_store
from decor.studio.versions import Changed
from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import flat_svg, hexes
from jobs.designs.fits import Fit
from jobs.designs.models import PanelDraft
from jobs.designs.pictures import drafts
from jobs.designs.pictures.aiming import MakingRefused
from jobs.designs.pictures.desk import PICTURE_GONE, Desk, panel_piece, picture_of
from jobs.designs.pictures.frame_form import FrameForm, PictureForm
from jobs.designs.pictures.making import Made, made
from jobs.designs.pictures.recipe import FramePart, Outline, Recipe, RecipeRefused
from jobs.designs.pictures.shown import seen_box, seen_level_deg, seen_size
from jobs.designs.pictures.sizes import NAMES, Size, rows_for, size_of, suggested
from jobs.designs.sheets.plans import laid_on

STAGE_SIDE = 900
"""Pixels along the longer side of the picture that is cropped on the screen."""


class NoPicture(Exception):
    """There is nothing to frame yet."""


class FrameDesk(Desk):
    """Raises NoPicture where the draft has none."""

    def _form(self, draft: PanelDraft, data: Any = None) -> FrameForm:
        if draft.picture is None:
            raise NoPicture
        return FrameForm(
            data,
            piece=self.piece,
            draft=draft,
            recipe=self._of_picture(draft),
            catalogue=self.catalogue,
            size_px=(draft.picture.width_px or 1, draft.picture.height_px or 1),
            see_through=_see_through(draft),
        )

    def _of_picture(self, draft: PanelDraft) -> Recipe:
        """Words or a pattern that were tried in between have a size of their own, into which no picture fits: it is
        framed at the size of the chart that stands, or else as high as its width asks for."""
        recipe = Recipe.from_plain(draft.recipe)
        if recipe.source == "picture":
            return recipe
        panel = getattr(self.piece, "panel", None)
        if panel and panel.picture_id == draft.picture_id and panel.recipe.get("source") == "picture":
            return replace(recipe, source="picture", rows=panel.rows, columns=panel.columns, sheet=panel.sheet_id)
        return replace(_for_picture(recipe, draft.picture.height_px / draft.picture.width_px), frame=recipe.frame)

    @property
    def recipe(self) -> Recipe:
        valid = self.form.is_bound and self.form.is_valid()
        return self.form.recipe() if valid else self.form.stood

    def made(self) -> Made | None:
        """As many balloons as it takes: how few colours and how much stock are asked about on the next page."""
        if self.form.is_bound and not self.form.is_valid():
            return None
        try:
            recipe = replace(self.recipe, within_stock=False, most_colours=None)
            return made(recipe, picture_of(self.draft), catalogue=self.catalogue, piece=self.piece, free=self.form.free)
        except MakingRefused as refusal:
            self._refuse(refusal.about, refusal.message)
        except PictureRefused as refusal:
            self._refuse("picture", refusal.message)
        return None

    def keep_as(self, act: str) -> None:
        """What was sent and then turned, mirrored or sized by a button. Raises Changed."""
        recipe, version = self.form.recipe(act), self.form.cleaned_data["version"]
        if self.draft.version != version:
            raise Changed(self.draft)
        if recipe.to_plain() != self.draft.recipe:
            drafts.draft_change(draft=self.draft, version=version, recipe=recipe)


def _see_through(draft: PanelDraft) -> bool:
    if draft.picture.mime != "image/png":
        return False
    try:
        return is_see_through(file_read(file=draft.picture))
    except (FileNotFoundError, PictureRefused):
        return False  # that it is gone is said when it is to be shown


@once
def frame(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    try:
        if request.method == "POST" and request.POST.get("act") == "picture":
            return _other_picture(request, event, piece)
        desk = FrameDesk(request, event, piece)
    except NoPicture:
        return _nothing(request, event, piece, PictureForm())
    except (ValueError, RecipeRefused) as refusal:
        return _nothing(request, event, piece, None, refusal=str(refusal))
    done = desk.made()
    if request.method != "POST":
        return _page(desk, done)
    if done is None:
        return _page(desk, None, status=422)
    act = request.POST.get("act", "look")
    try:
        desk.keep_as(act)
    except Changed:
        return _page(desk, done, status=409, differences=desk.met())
    return redirect("jobs:panel-colours" if act == "go" else "jobs:panel-frame", event=event, piece=piece)


@require_POST
def frame_look(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The preview while it is framed, kept in the draft as it goes."""
    try:
        desk = FrameDesk(request, event, piece)
    except (NoPicture, ValueError) as refusal:
        return HttpResponse(str(refusal) or PICTURE_GONE, status=422, content_type="text/plain")
    done, differences = desk.made(), None
    if done is not None:
        try:
            desk.keep()
        except Changed:
            differences = desk.met()
    sizes = _sizes(desk, done) if done else None
    context = _context(desk, done) | {
        "slots": desk.form.slots(),
        "others": desk.form.non_field_errors(),
        "differences": differences,
        "swapped": True,
        # Their prices are asked for anew only where they are others.
        "sizes": sizes if sizes and _key(sizes) != request.POST.get("sizes_key") else None,
    }
    answer = render(request, "jobs/designs/_frame_preview.html", context, status=422 if done is None else 200)
    if done is not None:
        answer["HX-Trigger-After-Settle"] = "figures"
    return answer


@require_safe
def frame_picture(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The draft's whole picture, turned and mirrored as it is seen on the page."""
    draft = drafts.draft_of(piece=panel_piece(event, piece), catalogue=catalogue_now())
    if draft.picture is None:
        raise Http404
    part = Recipe.from_plain(draft.recipe).frame
    try:
        seen = seen_picture(file_read(file=draft.picture), STAGE_SIDE, turn=part.turn, mirror=part.mirror)
    except (FileNotFoundError, PictureRefused) as gone:
        raise Http404 from gone
    answer = HttpResponse(seen.data, content_type=seen.content_type)
    # Its address names the file and how it is turned, so that it stays good.
    answer["Cache-Control"] = "private, max-age=3600"
    return answer


def _other_picture(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found = panel_piece(event, piece)
    draft = drafts.draft_of(piece=found, catalogue=catalogue_now())
    form = PictureForm(request.POST, request.FILES)
    if not form.is_valid():
        return _nothing(request, event, piece, form, status=422, back=draft.picture is not None)
    picture = form.cleaned_data["picture"]
    stored = file_store(
        data=picture.data,
        mime=picture.content_type,
        original_name=request.FILES["picture"].name,
        width_px=picture.width,
        height_px=picture.height,
    )
    recipe = _for_picture(Recipe.from_plain(draft.recipe), picture.height / picture.width)
    try:
        drafts.draft_change(draft=draft, version=draft.version, recipe=recipe, picture=stored)
    except Changed:
        form.add_error(None, "Somebody else changed this panel at the same moment. Choose the picture again.")
        return _nothing(request, event, piece, form, status=409)
    request.session["outcome"] = " ".join(picture.notes)
    return redirect("jobs:panel-frame", event=event, piece=piece)


def _for_picture(recipe: Recipe, tall: float) -> Recipe:
    """As wide as before, and as high as the new picture asks for."""
    anew = replace(recipe, source="picture", of_cells=False, frame=FramePart(), outline=Outline())
    sheet = catalogue_now().sheet(recipe.sheet)
    if sheet is None or not recipe.cells:
        return anew
    rows = min(rows_for(sheet, recipe.columns, tall), MOST_CELLS // recipe.columns)
    return replace(anew, rows=rows)


def _nothing(
    request: HttpRequest, event: int, piece: int, form: PictureForm | None, *, status: int = 200, **extra: Any
) -> HttpResponse:
    """A page to put in a picture, or to say why none can be framed."""
    found = panel_piece(event, piece)
    errors = sum(len(words) for words in form.errors.values()) if form else 0
    context = {"tab": "events", "piece": found, "event": found.event, "form": form, "forms": [form] if form else []}
    return render(request, "jobs/designs/frame_nothing.html", context | {"error_count": errors} | extra, status=status)


def _page(desk: FrameDesk, done: Made | None, *, status: int = 200, **extra: Any) -> HttpResponse:
    context = _context(desk, done) | {
        "tab": "events",
        "forms": [desk.form],
        "error_count": sum(len(words) for words in desk.form.errors.values()),
        "sizes": _sizes(desk, done),
        "stage": stage_of(desk.draft),
        "picture_form": PictureForm(),
    }
    return render(desk.request, "jobs/designs/frame.html", context | extra, status=status)


def _context(desk: FrameDesk, done: Made | None) -> dict[str, Any]:
    sizes = None
    if done is not None:
        fit = Fit(desk.catalogue.sheet(done.recipe.sheet), done.chart.lattice.rows, done.chart.lattice.columns)
        sizes = _size(desk, done.recipe, "now", fit)
    return {
        "piece": desk.piece,
        "event": desk.piece.event,
        "draft": desk.draft,
        "form": desk.form,
        "look": _cells_svg(desk, done) if done else None,
        "now": sizes,
        "filled": done.chart.cells[done.chart.cells >= 0].size if done else 0,
        "warnings": done.warnings if done else (),
    }


def _cells_svg(desk: FrameDesk, done: Made) -> SafeString:
    items = [desk.catalogue.balloon(number) for number in done.palette]
    return mark_safe(flat_svg(done.chart, hexes(items), title=f"{desk.piece.title} as cells"))


def _size(desk: FrameDesk, recipe: Recipe, name: str, fit: Fit) -> Size:
    return size_of(
        name,
        fit,
        outline=recipe.outline.kind,
        loading=recipe.loading,
        alike=desk.piece.count,
        units=_units(desk),
    )


def _units(desk: FrameDesk) -> str:
    """Whoever says the size in feet reads it in feet, whatever the studio's own unit is."""
    return {"ft": "imperial", "m": "metric"}.get(str(desk.form["unit"].value()), desk.catalogue.units)


def _sizes(desk: FrameDesk, done: Made | None) -> list[Size]:
    """Small, middle and large for the picture as it is framed, on the chosen sheets, or those like them that can be
    carried."""
    recipe = done.recipe if done else desk.recipe
    chosen = desk.catalogue.sheet(recipe.sheet)
    if chosen is None:
        return []
    sheet = laid_on(chosen, desk.piece, recipe.loading, desk.catalogue)
    kind = done.kind if done else "photograph"
    found = suggested(sheet, desk.form.tall(recipe.frame), kind)
    return [_size(desk, recipe, name, Fit(sheet, *size)) for name, size in zip(NAMES, found, strict=True)]


def _key(sizes: list[Size]) -> str:
    return " ".join(
        f"{size.rows}x{size.columns}:{size.balloons}:{size.sheet_id}:{size.measures[-2:]}" for size in sizes
    )


def stage_of(draft: PanelDraft) -> dict[str, Any]:
    """The whole picture as it is seen, with its crop, in the picture's own pixels."""
    part = Recipe.from_plain(draft.recipe).frame
    picture = draft.picture
    wide, high = seen_size(picture.width_px, picture.height_px, part)
    left, top, right, bottom = seen_box(part)
    return {
        "wide": wide,
        "high": high,
        "left": left * wide,
        "top": top * high,
        "right": right * wide,
        "bottom": bottom * high,
        "across": (right - left) * wide,
        "down": (bottom - top) * high,
        "middle_x": (left + right) / 2 * wide,
        "middle_y": (top + bottom) / 2 * high,
        "level": seen_level_deg(part),
        "line": max(wide, high) / 260,
        "named": f"{picture.pk}-{part.turn}-{int(part.mirror)}",
    }
