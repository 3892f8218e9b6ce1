"""A panel of the lighthouse, made by its recipe."""

import pytest

from decor.studio.services import file_store
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.measured import Measured
from jobs.designs.models import Panel, Piece
from jobs.designs.pictures.making import made
from jobs.designs.pictures.recipe import Recipe
from jobs.designs.services import piece_measure
from tests.jobs.designs.conftest import encoded, lighthouse

SEA = ("white", "red", "navy", "sky", "green", "black")


@pytest.fixture
def store(sheets, stocked) -> Catalogue:
    return catalogue_now()


@pytest.fixture
def recipe(sheets, stocked) -> Recipe:
    palette = tuple(stocked[name].pk for name in SEA)
    return Recipe(palette=palette, sheet=sheets["large"].pk, rows=22, columns=26)


@pytest.fixture
def panel(panel_piece: Piece, recipe: Recipe, store: Catalogue) -> Panel:
    """26 wide, 22 high, in six colours, as the quick form keeps one."""
    data = encoded(lighthouse())
    picture = file_store(data=data, mime="image/png", original_name="lighthouse.png", width_px=520, height_px=440)
    done = made(recipe, data, catalogue=store, piece=panel_piece)
    measures = {"width": 26.0, "height": 22.0, "unit": "cells", "sheet": recipe.sheet, "loading": "paired"}
    measured = Measured(measures | {"within_stock": False}, done.charted(stored_picture=picture))
    piece_measure(piece=panel_piece, version=1, panel_version=0, measured=measured)
    return Panel.objects.select_related("piece__event__venue", "picture").get()
