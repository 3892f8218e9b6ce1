"""A recipe as plain data, there and back."""

import base64

import numpy as np
import pytest

from jobs.designs.pictures.recipe import Recipe, RecipeRefused, bits_text, bytes_bits, text_bits

FULL = {
    "source": "words", "of_cells": True,
    "frame": {
        "left": 0.1, "top": 0.0, "right": 0.9, "bottom": 1.0, "turn": 90, "level_deg": -2.5, "brightness": 0.1,
        "contrast": -0.2, "mirror": True, "ground": {"act": "colour", "latex": 4},
    },
    "words": {
        "text": "Ahoy\nthere", "height": "large", "align": "left", "outline": True, "shadow": False,
        "slanted": False,
        "colours": {"letter": 3, "outline": 4, "shadow": None, "ground": None},
    },
    "pattern": {"kind": "stripes", "colours": [3, 4], "wide": 5, "lying": True},
    "outline": {"kind": "letters", "text": "A", "cells": ""},
    "kind": "flat", "diffusion": "some", "calm_ground": False, "most_colours": 6, "must": [3], "must_not": [9],
    "palette": [3, 4, 9], "within_stock": True, "focus": {"act": "found", "strength": 4.0, "cells": ""},
    "gather": True, "keep_painted": False, "sheet": 7, "rows": 22, "columns": 26, "loading": "strung",
}  # fmt: skip


def test_there_and_back():
    assert Recipe.from_plain(FULL).to_plain() == FULL


def test_what_an_older_recipe_does_not_say_has_its_default():
    assert Recipe.from_plain({}) == Recipe()
    assert Recipe.from_plain({"rows": 3, "frame": {"turn": 180}}).frame.right == 1.0


@pytest.mark.parametrize("plain", [{"glitter": 1}, {"frame": {"glitter": 1}}, {"words": {"colours": {"glitter": 1}}}])
def test_what_a_newer_program_said_is_refused_and_named(plain):
    with pytest.raises(RecipeRefused, match=r"newer version .* glitter"):
        Recipe.from_plain(plain)


@pytest.mark.parametrize(
    ("plain", "where"),
    [
        ({"source": "dream"}, "recipe.source"),
        ({"rows": -1}, "recipe.rows"),
        ({"rows": True}, "recipe.rows"),
        ({"most_colours": 0}, "recipe.most_colours"),
        ({"must": [0]}, "recipe.must"),
        ({"must": "3"}, "recipe.must"),
        ({"frame": {"turn": 45}}, "recipe.frame.turn"),
        ({"frame": {"left": 1.5}}, "recipe.frame.left"),
        ({"frame": 3}, "recipe.frame"),
        ({"words": {"text": "x" * 201}}, "recipe.words.text"),
        ({"focus": {"cells": "no base64!"}}, "recipe.focus.cells"),
        ({"pattern": {"wide": [1]}}, "recipe.pattern.wide"),
        ({"gather": 1}, "recipe.gather"),
    ],
)
def test_a_wrong_value_is_named(plain, where):
    with pytest.raises(RecipeRefused, match=rf"^{where}:"):
        Recipe.from_plain(plain)


def test_marked_cells_as_text():
    marked = np.zeros(21, dtype=bool)
    marked[[0, 9, 20]] = True
    # NumPy's own bit order, written out: 1000 0000, 0100 0000, 0000 1000.
    assert base64.b64decode(bits_text(marked)) == bytes([0b10000000, 0b01000000, 0b00001000])
    assert np.flatnonzero(text_bits(bits_text(marked), 21)).tolist() == [0, 9, 20]
    assert bits_text(np.zeros(21, dtype=bool)) == ""
    assert not text_bits(bits_text(marked), 400).any() and not bytes_bits(b"", 21).any()
