"""A draft on its way to a chart: kept, taken over, and the chart before it put back."""

from dataclasses import replace

import numpy as np
import pytest

from decor.studio.services import file_read
from decor.studio.versions import Changed
from jobs.designs import services
from jobs.designs.charting import cells_array
from jobs.designs.editor.merging import Stroke
from jobs.designs.editor.services import cells_paint
from jobs.designs.models import EarlierChart, Panel, PanelDraft, Piece
from jobs.designs.pictures.drafts import draft_change, draft_drop, draft_of, draft_take_over, recipe_of
from jobs.designs.pictures.making import made
from jobs.designs.pictures.recipe import Recipe, RecipeRefused, bytes_bits


def piece_now() -> Piece:
    return Piece.objects.select_related("event__venue", "panel__picture").get()


def taken_over(recipe: Recipe, store, *, panel_version: int | None = None, version: int | None = None) -> None:
    piece = piece_now()
    draft = draft_of(piece=piece, catalogue=store)
    done = made(recipe, file_read(file=draft.picture), catalogue=store, piece=piece)
    draft_take_over(
        draft=draft,
        version=draft.version if version is None else version,
        panel_version=piece.panel.version if panel_version is None else panel_version,
        made=done,
    )


def painted(panel: Panel, changes: dict[tuple[int, int], int]) -> None:
    """Cells by row and column, in numbers of the panel's own palette."""
    at = np.array([row * panel.columns + column for row, column in changes])
    stroke = Stroke(at, np.array(list(changes.values())), cells_array(panel).ravel()[at].astype(np.int64))
    cells_paint(panel=panel, stroke=stroke, palette=panel.palette, version=panel.version)


def test_looking_keeps_nothing(panel, store, recipe):
    draft = draft_of(piece=piece_now(), catalogue=store)
    assert (draft.version, draft.picture) == (0, panel.picture)
    assert Recipe.from_plain(draft.recipe) == recipe == recipe_of(panel)
    assert not PanelDraft.objects.exists()


def test_a_fresh_draft_has_the_rough_size_and_the_colours_that_were_named(panel_piece, store, stocked):
    """3.3 × 2.6 m at a pitch of 0.127 m: 26 wide less the half pitch of its stagger (25.5 → 25 or 26), 20 high."""
    assert store.colours()
    panel_piece.measures["colours"] = ["red", "sky"]
    recipe = Recipe.from_plain(draft_of(piece=panel_piece, catalogue=store).recipe)
    assert recipe.columns == round(3.3 / 0.127 - 0.5) and recipe.rows == round(2.6 / 0.127)
    assert set(recipe.palette) == {stocked["red"].pk, stocked["sky"].pk}
    panel_piece.measures["colours"] = []
    recipe = Recipe.from_plain(draft_of(piece=panel_piece, catalogue=store).recipe)
    assert len(recipe.palette) == 7, "without names every round 5 in is offered"


def test_what_is_chosen_is_kept_and_counts_up(panel, store, recipe):
    draft = draft_of(piece=piece_now(), catalogue=store)
    draft_change(draft=draft, version=0, recipe=replace(recipe, most_colours=4))
    again = draft_of(piece=piece_now(), catalogue=store)
    assert (again.version, again.recipe["most_colours"]) == (1, 4)
    draft_change(draft=again, version=1, recipe=replace(recipe, most_colours=3))
    kept = PanelDraft.objects.get()
    assert (kept.version, kept.recipe["most_colours"], kept.picture) == (2, 3, panel.picture)
    assert Panel.objects.get().version == panel.version, "a draft leaves the chart alone"


def test_of_two_people_the_second_is_told(panel, store, recipe):
    """Both opened the page before either had kept anything, and again when both had seen version 1."""
    first, second = (draft_of(piece=piece_now(), catalogue=store) for _ in range(2))
    draft_change(draft=first, version=0, recipe=replace(recipe, most_colours=4))
    with pytest.raises(Changed) as met:
        draft_change(draft=second, version=0, recipe=replace(recipe, most_colours=2))
    assert met.value.now.recipe["most_colours"] == 4
    first, second = (draft_of(piece=piece_now(), catalogue=store) for _ in range(2))
    draft_change(draft=first, version=1, recipe=replace(recipe, most_colours=5))
    with pytest.raises(Changed):
        draft_change(draft=second, version=1, recipe=replace(recipe, most_colours=2))
    with pytest.raises(Changed):
        draft_drop(draft=second, version=1)
    assert PanelDraft.objects.get().recipe["most_colours"] == 5


def test_a_chart_is_taken_over_and_the_earlier_one_put_back(panel, store, recipe, stocked):
    before = cells_array(panel).copy()
    draft_change(draft=draft_of(piece=piece_now(), catalogue=store), version=0, recipe=recipe)
    taken_over(replace(recipe, must_not=(stocked["sky"].pk,)), store)
    now = Panel.objects.get()
    assert now.version == panel.version + 1 and not PanelDraft.objects.exists()
    assert now.recipe["must_not"] == [stocked["sky"].pk] and stocked["sky"].pk not in now.palette
    assert now.picture_id == panel.picture_id

    services.chart_put_back(panel=now, version=now.version)
    back = Panel.objects.get()
    assert np.array_equal(cells_array(back), before) and back.palette == panel.palette
    assert recipe_of(back) == recipe

    services.chart_put_back(panel=back, version=back.version)
    assert stocked["sky"].pk not in Panel.objects.get().palette, "putting back can itself be put back"


def test_another_size_comes_back_with_its_measures_and_its_plan(panel, store, recipe):
    stood = panel.plan
    taken_over(replace(recipe, rows=11, columns=13), store)
    now, piece = Panel.objects.get(), Piece.objects.get()
    assert (now.rows, now.columns) == (11, 13) and now.plan != stood, "a plan of another size would be a wrong one"
    assert (piece.measures["width"], piece.measures["height"], piece.measures["unit"]) == (13, 11, "cells")
    services.chart_put_back(panel=now, version=now.version)
    back, piece = Panel.objects.get(), Piece.objects.get()
    assert (back.rows, back.columns, back.plan) == (22, 26, stood)
    assert (piece.measures["width"], piece.measures["height"]) == (26, 22)


def test_colours_alone_leave_the_sheet_plan(panel, store, recipe):
    taken_over(recipe, store)
    assert Panel.objects.get().plan == panel.plan


def test_cells_painted_by_hand_stay(panel, store, recipe, stocked):
    red = panel.palette.index(stocked["red"].pk)
    painted(panel, {(0, 0): red, (5, 7): -1})
    taken_over(replace(recipe, must_not=(stocked["red"].pk,)), store)
    now = Panel.objects.get()
    cells = cells_array(now)
    assert now.palette[cells[0, 0]] == stocked["red"].pk and cells[5, 7] == -1
    assert np.count_nonzero(cells == now.palette.index(stocked["red"].pk)) == 1
    assert np.flatnonzero(bytes_bits(bytes(now.painted), 22 * 26)).tolist() == [0, 5 * 26 + 7]


def test_locked_cells_stay_even_where_painted_ones_may_go(panel, store, recipe, stocked):
    black = panel.palette.index(stocked["black"].pk)
    painted(panel, {(0, 0): black, (0, 1): black})
    locked = np.zeros(22 * 26, dtype=bool)
    locked[1] = True
    Panel.objects.update(locked=np.packbits(locked).tobytes())
    taken_over(replace(recipe, keep_painted=False), store)
    now = Panel.objects.get()
    cells = cells_array(now)
    assert [now.palette[cells[0, at]] for at in (0, 1)] == [stocked["sky"].pk, stocked["black"].pk]


def test_who_takes_over_must_have_seen_what_stands(panel, store, recipe):
    with pytest.raises(Changed):
        taken_over(recipe, store, panel_version=panel.version - 1)
    draft_change(draft=draft_of(piece=piece_now(), catalogue=store), version=0, recipe=recipe)
    with pytest.raises(Changed):
        taken_over(recipe, store, version=0)
    assert Panel.objects.get().version == panel.version and PanelDraft.objects.exists()
    assert not EarlierChart.objects.exists(), "what was refused leaves nothing behind"


def test_words_without_any_picture_become_a_panel(panel_piece, store, recipe, stocked):
    wanted = replace(recipe, source="words")
    wanted = Recipe.from_plain(
        wanted.to_plain()
        | {"words": {"text": "AHOY", "height": "small", "colours": {"letter": stocked["red"].pk, "ground": None}}}
    )
    piece = Piece.objects.select_related("event__venue").get()
    draft = draft_of(piece=piece, catalogue=store)
    done = made(wanted, None, catalogue=store, piece=piece)
    draft_take_over(draft=draft, version=0, panel_version=0, made=done)
    panel = Panel.objects.get()
    assert panel.picture is None and panel.recipe["words"]["text"] == "AHOY"
    assert panel.palette == [stocked["red"].pk]
    assert "rough" not in Piece.objects.get().measures


def test_the_quick_form_ends_a_draft(panel, store, recipe):
    draft_change(draft=draft_of(piece=piece_now(), catalogue=store), version=0, recipe=recipe)
    piece = piece_now()
    done = made(recipe, file_read(file=panel.picture), catalogue=store, piece=piece)
    measured = services.Measured(dict(piece.measures), done.charted())
    services.piece_measure(piece=piece, version=piece.version, panel_version=panel.version, measured=measured)
    assert not PanelDraft.objects.exists()


def test_nothing_earlier_is_said(panel):
    with pytest.raises(services.NothingEarlier, match="no earlier chart"):
        services.chart_put_back(panel=panel, version=panel.version)


def test_an_earlier_chart_whose_sheet_is_gone_is_said(panel, store, recipe, sheets):
    taken_over(replace(recipe, sheet=sheets["small"].pk), store)
    sheets["large"].delete()
    now = Panel.objects.get()
    with pytest.raises(services.NothingEarlier, match="no longer in stock"):
        services.chart_put_back(panel=now, version=now.version)


def test_who_puts_back_must_have_seen_the_chart(panel, store, recipe):
    taken_over(recipe, store)
    now = Panel.objects.get()
    with pytest.raises(Changed):
        services.chart_put_back(panel=now, version=now.version - 1)
    assert Panel.objects.get().version == now.version


def test_a_newer_program_s_recipe_is_not_read_wrongly(panel, store):
    Panel.objects.update(recipe={"glitter": True})
    with pytest.raises(RecipeRefused, match="glitter"):
        draft_of(piece=piece_now(), catalogue=store)
