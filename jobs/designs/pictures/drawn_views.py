"""Words and patterns as a panel: tried out beside their price, and taken over."""

from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST

from decor.calc.picture.reading_distance import letters_read_until_m
from decor.studio.requests import once
from decor.studio.versions import Changed
from jobs.designs.charting import hexes
from jobs.designs.drawing import balloons_svg
from jobs.designs.lengths import length_words, size_words
from jobs.designs.models import PanelDraft
from jobs.designs.pictures.aiming import MakingRefused
from jobs.designs.pictures.desk import Desk, panel_piece
from jobs.designs.pictures.drawn_form import DrawnForm
from jobs.designs.pictures.keeping import by_hand
from jobs.designs.pictures.looks import Look, look_of
from jobs.designs.pictures.making import Made, made
from jobs.designs.pictures.patterns_form import PatternForm
from jobs.designs.pictures.recipe import Recipe, RecipeRefused
from jobs.designs.pictures.words_form import WordsForm

MOST_BALLOONS = 4_000
"""Cells that are drawn as balloons while somebody types; a larger panel is shown in flat colours."""
CAPITALS = {"small": 5, "middle": 7, "large": 12}


@dataclass(frozen=True)
class Subject:
    """One of the two pages."""

    form: type[DrawnForm]
    title: str
    address: str
    template: str
    first: str
    """What stands where the picture will be, before there is anything to draw."""


WORDS = Subject(WordsForm, "Words", "panel-words", "words.html", "Write the words, and they appear here.")
PATTERN = Subject(PatternForm, "A pattern", "panel-pattern", "pattern.html", "Choose a pattern, and it appears here.")


class DrawnDesk(Desk):
    def __init__(self, request: HttpRequest, event: int, piece: int, subject: Subject) -> None:
        self.subject = subject
        super().__init__(request, event, piece)

    def _form(self, draft: PanelDraft, data: Any = None) -> DrawnForm:
        recipe = Recipe.from_plain(draft.recipe)
        return self.subject.form(data, piece=self.piece, draft=draft, recipe=recipe, catalogue=self.catalogue)

    @property
    def fresh(self) -> bool:
        """Nothing of this kind was drawn yet, and the page was only opened."""
        return not self.form.is_bound and self.draft.recipe["source"] != self.subject.form.SOURCE

    def keep(self) -> None:
        """Nothing is in the way where the draft already says the same: a preview that was still on its way when the
        button was pressed has kept it, and the page did not hear of its version."""
        if self.form.recipe().to_plain() != self.draft.recipe:
            super().keep()

    @property
    def anew(self) -> bool:
        """Cells painted into another picture have no place in words."""
        panel = getattr(self.piece, "panel", None)
        return panel is None or panel.recipe.get("source") != self.subject.form.SOURCE

    def goes(self, done: Made | None) -> int:
        if done is None and self.anew:
            return by_hand(getattr(self.piece, "panel", None))
        return super().goes(done)

    def made(self) -> Made | None:
        if self.fresh or (self.form.is_bound and not self.form.is_valid()):
            return None
        recipe = self.recipe
        try:
            return made(recipe, None, catalogue=self.catalogue, piece=self.piece, free=self.form.free, anew=self.anew)
        except MakingRefused as refusal:
            self._refuse(refusal.about, refusal.message)
        return None


def _look(desk: DrawnDesk, done: Made) -> Look:
    look = look_of(done, desk.form, desk.catalogue, desk.piece)
    lattice, recipe = done.chart.lattice, done.recipe
    units = desk.catalogue.units
    size = size_words(lattice.width_m, lattice.height_m, units)
    rows = [("Size", f"{lattice.columns:,} wide, {lattice.rows:,} high", size)]
    if recipe.source == "words":
        until = letters_read_until_m(CAPITALS[recipe.words.height] * lattice.row_pitch_m) / 2.0
        rows.append(
            ("Reads", f"to about {length_words(float(round(until)), units)}", "capitals, at ease, in good light")
        )
    rows += [row for row in look.rows if row[0] not in ("Difference", "Colours")]
    verdict = "Words on the panel" if recipe.source == "words" else "The pattern on the panel"
    if lattice.cells > MOST_BALLOONS:
        return replace(look, rows=rows, verdict=verdict)
    items = [desk.catalogue.balloon(number) for number in done.palette]
    title = f"{desk.piece.title}: {lattice.columns} wide, {lattice.rows} high"
    picture = mark_safe(balloons_svg(done.chart, hexes(items), title=title, prefix="w"))
    return replace(look, rows=rows, verdict=verdict, picture=picture)


def _context(desk: DrawnDesk, done: Made | None) -> dict[str, Any]:
    return {
        "tab": "events",
        "piece": desk.piece,
        "event": desk.piece.event,
        "draft": desk.draft,
        "subject": desk.subject,
        "page": f"jobs:{desk.subject.address}",
        "look_at": f"jobs:{desk.subject.address}-look",
        "form": desk.form,
        "look": _look(desk, done) if done else None,
        "fresh": desk.fresh,
        "goes": desk.goes(done),
    }


def _page(desk: DrawnDesk, done: Made | None, *, status: int = 200, **extra: Any) -> HttpResponse:
    context = _context(desk, done) | {
        "forms": [desk.form],
        "error_count": sum(len(words) for words in desk.form.errors.values()),
    }
    return render(desk.request, f"jobs/designs/{desk.subject.template}", context | extra, status=status)


def _drawn(request: HttpRequest, event: int, piece: int, subject: Subject) -> HttpResponse:
    try:
        desk = DrawnDesk(request, event, piece, subject)
    except (ValueError, RecipeRefused) as refusal:
        context = {"tab": "events", "piece": (found := panel_piece(event, piece)), "event": found.event}
        return render(request, "jobs/designs/colours_nothing.html", context | {"refusal": str(refusal)})
    if request.method != "POST":
        return _page(desk, desk.made())
    act = request.POST.get("act", "look")
    if act == "drop":
        return desk.dropped() or _page(desk, None, status=409, differences=desk.met())
    done = desk.made()
    if done is None:
        return _page(desk, None, status=422)
    try:
        desk.keep()
        if act != "use":
            return _page(desk, done)
        return desk.use(done)
    except Changed:
        return _page(desk, done, status=409, differences=desk.met())


def _drawn_look(request: HttpRequest, event: int, piece: int, subject: Subject) -> HttpResponse:
    """The preview while the form is filled in, kept in the draft as it goes."""
    try:
        desk = DrawnDesk(request, event, piece, subject)
    except ValueError as refusal:
        return HttpResponse(str(refusal), status=422, content_type="text/plain")
    done = desk.made()
    differences = None if done is None else desk.kept()
    context = _context(desk, done) | {
        "slots": desk.form.slots(),
        "others": desk.form.non_field_errors(),
        "differences": differences,
    }
    return desk.previewed("jobs/designs/_drawn_preview.html", done, context)


@once
def words(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    return _drawn(request, event, piece, WORDS)


@require_POST
def words_look(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    return _drawn_look(request, event, piece, WORDS)


@once
def pattern(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    return _drawn(request, event, piece, PATTERN)


@require_POST
def pattern_look(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    return _drawn_look(request, event, piece, PATTERN)
