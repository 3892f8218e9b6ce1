"""A panel's picture on its way to a chart: kept while it is worked on, and taken over."""

from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from decor.calc.pieces.panel import LOADINGS as WAYS
from decor.studio.models import StoredFile
from decor.studio.versions import Changed, save_unchanged
from jobs.designs import services
from jobs.designs.catalogue import Catalogue
from jobs.designs.fits import rough_fit
from jobs.designs.measured import Measured
from jobs.designs.models import Panel, PanelDraft, Piece
from jobs.designs.pictures.making import Made
from jobs.designs.pictures.recipe import LOADINGS, Recipe


def recipe_of(panel: Panel) -> Recipe:
    """How the panel's chart was made; its size, sheet and way of loading are always those of the panel itself.

    Raises RecipeRefused where a newer program made it."""
    known = Recipe.from_plain(panel.recipe)
    now: dict[str, Any] = {
        "sheet": panel.sheet_id,
        "rows": panel.rows,
        "columns": panel.columns,
        "loading": panel.loading,
        "palette": list(known.palette or panel.palette),
        "within_stock": panel.within_stock,
    }
    return Recipe.from_plain(known.to_plain() | now)


def fresh_recipe(piece: Piece, catalogue: Catalogue) -> Recipe:
    """Of a piece without a picture: its rough size on the sheets that cover it at the least cost, in the colours
    that the client named, else in all. Raises ValueError where the studio has no sheets."""
    measures = piece.measures
    fit = rough_fit(measures, catalogue)
    loading = measures.get("loading")
    loading = loading if loading in LOADINGS else "paired"
    fitting = catalogue.fitting(fit.sheet.sized_diameter_m, WAYS[loading].shape)
    named = set(measures.get("colours") or ())
    palette = tuple(item.id for item in fitting if item.words in named) or tuple(item.id for item in fitting)
    return Recipe(sheet=fit.sheet.id, rows=fit.rows, columns=fit.columns, loading=loading, palette=palette)


def draft_of(*, piece: Piece, catalogue: Catalogue) -> PanelDraft:
    """The piece's draft, or a new one of version 0 that is not kept yet: looking at a page keeps nothing.

    Raises ValueError with the reason in words where the studio has no sheets, or a newer program made the chart."""
    kept = PanelDraft.objects.select_related("picture").filter(piece=piece).first()
    if kept is not None:
        kept.piece = piece
        return kept
    panel: Panel | None = getattr(piece, "panel", None)
    recipe = recipe_of(panel) if panel else fresh_recipe(piece, catalogue)
    picture = panel.picture if panel else None
    return PanelDraft(piece=piece, picture=picture, recipe=recipe.to_plain(), version=0)


def draft_change(*, draft: PanelDraft, version: int, recipe: Recipe, picture: StoredFile | None = None) -> PanelDraft:
    """Keeps what was chosen, without touching the chart; `picture` is another picture, None keeps the one it has.

    Raises Changed with the draft, or the piece, as it stands where somebody else was faster."""
    draft.recipe, draft.changed = recipe.to_plain(), timezone.now()
    if picture is not None:
        draft.picture = picture
    if version:
        if draft.pk is None:  # taken over, or dropped, by somebody else
            raise Changed(Piece.objects.select_related("panel").get(pk=draft.piece_id))
        save_unchanged(draft, version=version, fields=("recipe", "picture", "changed"))
        return draft
    try:
        with transaction.atomic():
            draft.pk, draft.version = None, 1
            draft.save(force_insert=True)
    except IntegrityError:
        raise Changed(PanelDraft.objects.get(piece=draft.piece_id)) from None
    return draft


def draft_drop(*, draft: PanelDraft, version: int) -> None:
    """Raises Changed."""
    if draft.pk and not PanelDraft.objects.filter(pk=draft.pk, version=version).delete()[0]:
        raise Changed(PanelDraft.objects.get(pk=draft.pk))


@transaction.atomic
def draft_take_over(*, draft: PanelDraft, version: int, panel_version: int, made: Made) -> None:
    """The chart that was made of the draft becomes the panel's; the one that stood is kept aside, the draft is done.

    `version` is the draft's (0 for one that was never kept), `panel_version` the chart's (0 where there is none): who
    takes over must have seen both. Raises Changed."""
    piece = Piece.objects.get(pk=draft.piece_id)
    standing = PanelDraft.objects.select_for_update().filter(piece=piece).first()
    if (standing.version if standing else 0) != version:
        raise Changed(standing or piece)
    services.piece_measure(
        piece=piece,
        version=piece.version,
        panel_version=panel_version,
        measured=Measured(_measures(piece, made), made.charted(stored_picture=draft.picture)),
    )


def _measures(piece: Piece, made: Made) -> dict[str, Any]:
    """As the quick form keeps them; where the size is another one than it said, in cells."""
    recipe = made.recipe
    measures = {"loading": recipe.loading, "sheet": recipe.sheet, "within_stock": recipe.within_stock}
    panel: Panel | None = Panel.objects.filter(piece=piece).first()
    same = panel and (panel.rows, panel.columns, panel.sheet_id) == (recipe.rows, recipe.columns, recipe.sheet)
    if same and not piece.measures.get("rough"):
        return piece.measures | measures
    return {"width": float(recipe.columns), "height": float(recipe.rows), "unit": "cells", **measures}
