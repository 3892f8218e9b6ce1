"""From a recipe to a chart: every source, kind and lattice, on open pictures (those bundled with scikit-image)."""

import io
import math
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter
from skimage import color as reference_colour
from skimage import data as open_pictures

from decor.calc.picture.chart import Chart
from inventory.models import Item, Latex, Sheet
from jobs.designs.catalogue import catalogue_now
from jobs.designs.drawing import rgb_of_hex
from jobs.designs.models import Panel
from jobs.designs.pictures import mixing
from jobs.designs.pictures.aiming import MakingRefused
from jobs.designs.pictures.buying import bought
from jobs.designs.pictures.making import Made, made
from jobs.designs.pictures.recipe import (
    Focus,
    FramePart,
    Ground,
    Outline,
    Pattern,
    Recipe,
    WordColours,
    Words,
    bits_text,
)

ROWS, COLUMNS = 20, 24
SHADES = {
    "white": "#f4f2ec", "red": "#c8322b", "navy": "#1f3a63", "sky": "#7db3d8", "yellow": "#f0c330",
    "green": "#4f8a47", "black": "#2a2a2c", "grey": "#8d9095", "sand": "#cbb08a", "brown": "#6b4630",
    "pink": "#eaa3b4", "orange": "#e9792f",
}  # fmt: skip
PLENTY = 10_000


@pytest.fixture
def nets(studio) -> dict[str, Sheet]:
    common = {"kind": Item.Kind.SHEET, "returnable": True, "pitch_m": 0.127, "sized_diameter_m": 0.12}
    common |= {"tabs_per_side": 12, "tabs_per_end": 12, "pack_price": 9, "uses": 3, "rows": 12, "columns": 12}
    return {
        kind: Sheet.objects.create(name=f"Net {kind}", lattice=kind, **common) for kind in ("square", "offset", "hex")
    }


@pytest.fixture
def balloons(studio) -> dict[str, Latex]:
    return {
        name: Latex.objects.create(
            kind=Item.Kind.LATEX, name=f"{name} 5 in", nominal_in=5, shape="round", colour=name, rgb=rgb,
            pack_size=100, pack_price=8,
        )
        for name, rgb in SHADES.items()
    }  # fmt: skip


@pytest.fixture
def start(nets, balloons) -> Recipe:
    palette = tuple(item.pk for item in balloons.values())
    return Recipe(palette=palette, sheet=nets["offset"].pk, rows=ROWS, columns=COLUMNS)


@pytest.fixture
def make(panel_piece, start):
    catalogue = catalogue_now()

    def build(recipe: Recipe, picture: bytes | None = None, free: dict[int, int] | None = None) -> Made:
        plenty = {item.id: PLENTY for item in catalogue.latex}
        return made(recipe, picture, catalogue=catalogue, piece=panel_piece, free=free or plenty)

    return build


def sent(name: str) -> bytes:
    image = getattr(open_pictures, name)()
    out = io.BytesIO()
    Image.fromarray(image).convert("RGB").save(out, "PNG")
    return out.getvalue()


def flag() -> bytes:
    image = Image.new("RGB", (240, 200), SHADES["red"])
    image.paste(SHADES["white"], (80, 0, 160, 200))
    image.paste(SHADES["navy"], (160, 0, 240, 200))
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def counts(done: Made) -> dict[int, int]:
    """Balloons by latex id."""
    numbers, amounts = np.unique(done.chart.cells[done.chart.cells >= 0], return_counts=True)
    return {done.palette[number]: int(amount) for number, amount in zip(numbers, amounts, strict=True)}


def shown(done: Made) -> np.ndarray:
    """(n, 3) sRGB of what the filled cells show."""
    rgb = {item.pk: item.rgb for item in Latex.objects.all()}
    hexes = [rgb[number] for number in done.palette]
    table = np.array([[int(one[at : at + 2], 16) / 255 for at in (1, 3, 5)] for one in hexes])
    return table[done.chart.cells[done.chart.cells >= 0]]


@pytest.mark.parametrize("net", ["square", "offset", "hex"])
@pytest.mark.parametrize("diffusion", ["auto", "none", "some", "full"])
@pytest.mark.parametrize("picture", ["astronaut", "coffee", "cat"])
def test_photographs_on_every_lattice_with_scarce_stock(make, start, nets, picture, diffusion, net):
    """Never above the stock, the colours that are ruled out never used, and every cell has its balloon."""
    rng = np.random.default_rng(len(picture) + len(diffusion))
    free = {number: int(most) for number, most in zip(start.palette, rng.integers(20, 90, 12), strict=True)}
    recipe = replace(
        start, sheet=nets[net].pk, diffusion=diffusion, within_stock=True, must_not=start.palette[4:5], gather=True
    )
    done = make(recipe, sent(picture), free)
    assert done.kind == "photograph" and done.chart.filled == ROWS * COLUMNS
    used = counts(done)
    assert all(used[number] <= free[number] for number in used)
    assert start.palette[4] not in used
    assert (done.strength > 0) == (diffusion in ("some", "full")), "at 480 cells the program does not diffuse"


def test_the_mean_difference_is_what_a_reference_library_says(make, start):
    done = make(start, sent("coffee"))
    lab = reference_colour.rgb2lab(done.cells_srgb), reference_colour.rgb2lab(shown(done))
    assert done.mean_de == pytest.approx(reference_colour.deltaE_ciede2000(*lab).mean(), abs=0.01)


def test_without_limits_each_cell_takes_its_nearest(make, start):
    done = make(start, sent("cat"))
    lab = reference_colour.rgb2lab(done.cells_srgb)[:, None]
    table = np.array([[int(one[at : at + 2], 16) / 255 for at in (1, 3, 5)] for one in SHADES.values()])
    every = reference_colour.deltaE_ciede2000(lab, reference_colour.rgb2lab(table)[None])
    assert done.mean_de == pytest.approx(every.min(axis=1).mean(), abs=0.01)


def test_flat_art_keeps_to_the_colours_it_has(make, start, balloons):
    done = make(start, flag())
    assert done.kind == "flat" and done.strength == 0
    assert set(counts(done)) == {balloons[name].pk for name in ("red", "white", "navy")}


def test_the_best_few_are_chosen_with_a_proof_of_how_near(make, start):
    few, fewer = (make(replace(start, most_colours=k), sent("astronaut")) for k in (5, 3))
    assert len(counts(few)) <= 5 and len(few.palette) == len(counts(few)) and len(counts(fewer)) <= 3
    assert make(start, sent("astronaut")).mean_de <= few.mean_de <= fewer.mean_de
    assert few.gap is not None and 0 <= few.gap <= 0.05
    diffused = make(replace(start, most_colours=5, diffusion="full"), sent("astronaut"))
    assert set(counts(diffused)) <= set(counts(few)), "what is mixed is mixed of the chosen"


def test_few_colours_stay_few_where_shades_are_mixed_within_stock(make, start):
    """Of the five that were chosen, and never more of one than is free: a substitute is one of the five too."""
    recipe = replace(start, most_colours=5, diffusion="full", within_stock=True)
    free = dict.fromkeys(start.palette, ROWS * COLUMNS // 4)
    done = make(recipe, sent("astronaut"), free)
    assert len(counts(done)) <= 5 and max(counts(done).values()) <= ROWS * COLUMNS // 4


@pytest.mark.parametrize("picture", ["astronaut", "coffee", "cat", "rocket"])
@pytest.mark.parametrize("diffusion", ["some", "full"])
def test_within_stock_the_mix_that_looks_nearer_from_afar_is_taken(make, start, picture, diffusion, monkeypatch):
    """Judged apart from the program: a bell of one cell by SciPy in linear light, differences by scikit-image. Either
    way alone is never nearer than what is taken."""
    rng = np.random.default_rng(5)
    free = {number: int(most) for number, most in zip(start.palette, rng.integers(30, 110, 12), strict=True)}
    recipe = replace(start, sheet=start.sheet, diffusion=diffusion, within_stock=True, calm_ground=False)

    def afar(done: Made) -> float:
        def seen(colours: np.ndarray) -> np.ndarray:
            light = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
            grid = gaussian_filter(light.reshape(ROWS, COLUMNS, 3), (1, 1, 0), mode="nearest", radius=2)
            code = np.where(grid <= 0.0031308, grid * 12.92, 1.055 * np.maximum(grid, 0) ** (1 / 2.4) - 0.055)
            return reference_colour.rgb2lab(np.clip(code, 0, 1))

        return float(reference_colour.deltaE_ciede2000(seen(shown(done)), seen(done.cells_srgb)).mean())

    taken = afar(make(recipe, sent(picture), free))
    priced_too = mixing.MOST_TRIED
    monkeypatch.setattr(mixing, "MOST_TRIED", 0)  # the one way alone
    given = afar(make(recipe, sent(picture), free))
    monkeypatch.setattr(mixing, "MOST_TRIED", priced_too)
    monkeypatch.setattr(mixing, "_given", lambda mix, laid: mixing._laid(mix, mix.stock))  # the other way alone
    priced = afar(make(recipe, sent(picture), free))
    assert given != priced, "otherwise this proves nothing"
    assert taken <= min(given, priced) + 0.1


def test_a_colour_that_must_be_used_is_among_the_few(make, start, balloons):
    pink = balloons["pink"].pk
    done = make(replace(start, most_colours=4, must=(pink,)), sent("astronaut"))
    assert pink in counts(done) and len(counts(done)) <= 4


def test_a_colour_that_must_be_used_has_a_cell_even_where_it_comes_near_nothing(make, start, balloons):
    green = balloons["green"].pk
    done = make(replace(start, must=(green,)), flag())
    assert green in done.palette and done.chart.counts()[done.palette.index(green)] >= 1


def test_mixing_leaves_a_colour_that_must_be_used_its_best_cell(make, start, balloons):
    """Without the demand mixing gives these two no cell at all; with it each gets the one that loses least, reckoned
    here with scikit-image's CIEDE2000."""
    mixed = replace(start, diffusion="some")
    plain = make(replace(mixed, must_not=(balloons["yellow"].pk, balloons["green"].pk)), sent("astronaut"))
    for name in ("yellow", "green"):
        number = balloons[name].pk
        done = make(replace(mixed, must=(number,)), sent("astronaut"))
        assert counts(done)[number] == 1
        lab = reference_colour.rgb2lab(done.cells_srgb)
        at = int(np.flatnonzero(done.chart.cells.ravel() == done.palette.index(number))[0])
        seen = {item.pk: reference_colour.rgb2lab(np.array(rgb_of_hex(item.rgb)) / 255) for item in balloons.values()}
        before = np.array([plain.palette[one] for one in plain.chart.cells.ravel()])
        others = np.arange(len(before)) != at
        now = np.array([done.palette[one] for one in done.chart.cells.ravel()])
        assert (now[others] == before[others]).all(), "only one cell gives way"
        stood = np.array([seen[one] for one in before])
        asked = reference_colour.deltaE_ciede2000(lab, np.broadcast_to(seen[number], lab.shape))
        loss = asked - reference_colour.deltaE_ciede2000(lab, stood)
        assert loss[at] <= loss.min() + 0.01


def test_two_that_must_be_used_do_not_take_each_others_only_cell(make, start, balloons):
    must = tuple(balloons[name].pk for name in ("yellow", "green", "pink", "orange"))
    done = make(replace(start, diffusion="full", must=must), sent("camera"))
    assert all(counts(done).get(number, 0) >= 1 for number in must)


def test_one_that_must_be_used_and_cannot_be_is_refused_beside_it(make, start, balloons):
    pink, plenty = balloons["pink"].pk, dict.fromkeys(start.palette, PLENTY)
    with pytest.raises(MakingRefused, match="No pink balloons are free on") as refusal:
        make(replace(start, must=(pink,), within_stock=True), flag(), plenty | {pink: 0})
    assert refusal.value.about == "must"
    one = make(replace(start, must=(pink,), within_stock=True, diffusion="full"), sent("camera"), plenty | {pink: 1})
    assert counts(one)[pink] == 1
    small = replace(start, rows=1, columns=2, must=start.palette[:3])
    with pytest.raises(MakingRefused, match="only 2 cells are left") as refusal:
        make(small, flag())
    assert refusal.value.about == "must"


def test_one_that_must_be_used_and_has_no_such_balloons_falls_out_and_is_told(panel_piece, start, balloons):
    pink = balloons["pink"].pk
    Latex.objects.filter(pk=pink).update(nominal_in=36)
    done = made(replace(start, must=(pink,)), flag(), catalogue=catalogue_now(), piece=panel_piece)
    assert pink not in counts(done) and any("pink" in words for words in done.warnings)


def test_a_focus_keeps_its_colours_while_the_rest_gives(make, start):
    """The face of the open portrait is in the upper middle; it is marked by hand here."""
    picture, free = sent("astronaut"), dict.fromkeys(start.palette, 45)
    marked = np.zeros((ROWS, COLUMNS), dtype=bool)
    marked[2:9, 9:14] = True
    scarce = replace(start, within_stock=True)
    focus = Focus("painted", 6.0, bits_text(marked))
    plain, kept = make(scarce, picture, free), make(replace(scarce, focus=focus), picture, free)

    def face(done: Made) -> float:
        lab = reference_colour.rgb2lab(done.cells_srgb), reference_colour.rgb2lab(shown(done))
        return float(reference_colour.deltaE_ciede2000(*lab).reshape(ROWS, COLUMNS)[marked].mean())

    assert face(kept) < face(plain)
    assert kept.focus_de == pytest.approx(face(kept), abs=0.01)


def test_gathering_leaves_every_count_as_it_was(make, start):
    plain, gathered = (make(replace(start, gather=gather), sent("coffee")) for gather in (False, True))
    assert counts(plain) == counts(gathered) and gathered.changes < plain.changes


def test_more_diffusion_costs_more_changes(make, start):
    none, full = (make(replace(start, diffusion=much), sent("astronaut")) for much in ("none", "full"))
    assert full.changes > none.changes == full.plain_changes


@pytest.mark.parametrize("kind", ["round", "heart", "arch"])
def test_cells_outside_the_outline_have_no_balloon_and_cost_no_stock(make, start, kind):
    """Stock for exactly the cells inside is enough, diffused too."""
    inside = make(replace(start, outline=Outline(kind)), sent("coffee")).chart.filled
    assert 0.4 * ROWS * COLUMNS < inside < ROWS * COLUMNS
    each, over = divmod(inside, 12)
    free = {number: each + (1 if at < over else 0) for at, number in enumerate(start.palette)}
    for diffusion in ("none", "full"):
        recipe = replace(start, outline=Outline(kind), within_stock=True, diffusion=diffusion)
        assert counts(make(recipe, sent("coffee"), free)) == free
    with pytest.raises(MakingRefused) as refusal:
        make(replace(recipe, diffusion="none"), sent("coffee"), free | {start.palette[0]: free[start.palette[0]] - 1})
    assert (refusal.value.about, refusal.value.short_by) == ("within_stock", 1)


def test_a_photograph_within_stock_leaves_room_for_spares_where_it_can(make, start):
    """4 of 100 unless enough is known (the studio's default); without room the chart goes before the spares, and what
    is to buy is said. Diffusion stays within it too."""
    wanted = counts(make(start, sent("coffee")))
    most = max(wanted, key=lambda number: wanted[number])
    free = dict.fromkeys(start.palette, PLENTY) | {most: wanted[most] - 1}
    for diffusion in ("none", "full"):
        done = make(replace(start, within_stock=True, diffusion=diffusion), sent("coffee"), free)
        used = counts(done)[most]
        assert used + math.ceil(used * 0.04) <= free[most] and not done.warnings
    each, over = divmod(ROWS * COLUMNS, 12)
    exact = {number: each + (1 if at < over else 0) for at, number in enumerate(start.palette)}
    tight = make(replace(start, within_stock=True), sent("coffee"), exact)
    spares = sum(math.ceil(n * 0.04) for n in exact.values())
    assert counts(tight) == exact
    assert tight.warnings[-1] == f"What is free leaves too few spares: {spares} to buy."


def test_a_drawings_colours_do_not_change_for_spares(make, start, balloons):
    red = balloons["red"].pk
    wanted = counts(make(start, flag()))[red]
    free = dict.fromkeys(start.palette, PLENTY) | {red: wanted}
    done = make(replace(start, within_stock=True), flag(), free)
    assert counts(done)[red] == wanted
    assert done.warnings[-1].endswith(f"{math.ceil(wanted * 0.04)} to buy.")


def test_a_plain_background_is_left_without_balloons(make, start):
    image = Image.new("RGB", (240, 200), "#ffffff")
    image.paste(SHADES["red"], (60, 50, 180, 150))
    out = io.BytesIO()
    image.save(out, "PNG")
    done = make(replace(start, frame=FramePart(ground=Ground("empty"))), out.getvalue())
    # a half by a half of the panel, to within the cells of its edge
    assert done.chart.filled == pytest.approx(ROWS * COLUMNS / 4, rel=0.15)
    assert set(counts(done)) == {start.palette[1]}


def test_words_and_patterns_take_the_colours_they_name(make, start, balloons):
    red, white = balloons["red"].pk, balloons["white"].pk
    colours = WordColours(letter=red, ground=white)
    done = make(replace(start, source="words", words=Words("HI", "middle", colours=colours)))
    assert set(counts(done)) == {red, white} == set(done.palette) and done.mean_de == 0
    bare = make(replace(start, source="words", words=Words("HI", "middle", colours=replace(colours, ground=None))))
    assert bare.chart.filled == counts(done)[red]
    for kind in ("stripes", "checks", "gradient", "rings"):
        done = make(replace(start, source="pattern", pattern=Pattern(kind, (red, white))))
        assert set(counts(done)) == {red, white} and done.chart.filled == ROWS * COLUMNS


def test_a_named_colour_that_is_short_gives_way_where_it_is_missed_least(make, start, balloons):
    red, white = balloons["red"].pk, balloons["white"].pk
    recipe = replace(start, source="pattern", pattern=Pattern("checks", (red, white)), within_stock=True)
    free = dict.fromkeys(start.palette, PLENTY) | {red: 100}
    done = make(recipe, None, free)
    assert counts(done)[red] == 100 and counts(done)[white] >= ROWS * COLUMNS // 2 - COLUMNS


def test_the_chart_itself_is_the_source_where_there_is_no_picture(make, start, panel_piece):
    cells = (np.indices((ROWS, COLUMNS)).sum(axis=0) % 2).astype("<i2")
    panel = Panel.objects.create(
        piece=panel_piece, sheet_id=start.sheet, rows=ROWS, columns=COLUMNS, palette=list(start.palette[:2]),
        cells=cells.tobytes(),
    )  # fmt: skip
    panel_piece.panel = panel
    done = make(replace(start, source="kept"))
    assert np.array_equal(np.array(done.palette)[done.chart.cells], np.array(panel.palette)[cells])
    half = make(replace(start, source="kept", rows=ROWS // 2, columns=COLUMNS // 2))
    assert isinstance(half.chart, Chart) and half.chart.filled == ROWS * COLUMNS // 4


def test_the_same_colours_in_the_size_that_another_way_of_loading_needs(panel_piece, start):
    """Strung panels take double-ended balloons: red and white have some, orange has none, which is said."""
    double = {
        name: Latex.objects.create(
            kind=Item.Kind.LATEX, name=f"{name} 6 in", nominal_in=6, shape="double-ended", colour=name,
            rgb=SHADES[name], pack_size=100, pack_price=8,
        ).pk
        for name in ("red", "white")
    }  # fmt: skip
    recipe = replace(start, loading="strung")
    done = made(recipe, flag(), catalogue=catalogue_now(), piece=panel_piece, free={})
    assert set(counts(done)) == set(double.values())
    assert any("orange" in words for words in done.warnings)


@pytest.mark.parametrize(
    ("change", "about", "says"),
    [
        ({"palette": ()}, "palette", "at least one colour"),
        ({"rows": 0}, "rows", "no size yet"),
        ({"rows": 1000, "columns": 1000}, "rows", "the most is"),
        ({"sheet": 999_999}, "sheet", "no longer in stock"),
        ({"source": "words"}, "words", "no words yet"),
        ({"source": "words", "words": Words("A" * 60, "large")}, "words", ""),
        ({"source": "words", "words": Words("漢", "small")}, "words", "漢"),
        ({"source": "pattern"}, "pattern", "Choose a pattern"),
        ({"source": "paper"}, "picture", "no picture yet"),
        ({"outline": Outline("see-through")}, None, ""),
    ],
)
def test_what_cannot_be_made_says_why(make, start, change, about, says):
    recipe = replace(start, **change)
    if about is None:
        assert any("see-through" in words for words in make(recipe, flag()).warnings)
        return
    with pytest.raises(MakingRefused) as refusal:
        make(recipe, flag())
    assert refusal.value.about == about and says in refusal.value.message


def test_colours_ruled_out_and_asked_for(make, start):
    first = start.palette[:1]
    with pytest.raises(MakingRefused, match="asked for and ruled out"):
        make(replace(start, must=first, must_not=first), flag())
    with pytest.raises(MakingRefused, match="Every colour is ruled out"):
        make(replace(start, must_not=start.palette), flag())
    with pytest.raises(MakingRefused, match="2 colours must be used, but at most 1"):
        make(replace(start, must=start.palette[:2], most_colours=1), flag())


@pytest.mark.parametrize("image", [Image.new("RGB", (1, 1), "#c8322b"), Image.new("RGB", (300, 200), "#c8322b")])
def test_one_pixel_and_one_colour_become_one_colour(make, start, image):
    out = io.BytesIO()
    image.save(out, "PNG")
    assert counts(make(start, out.getvalue())) == {start.palette[1]: ROWS * COLUMNS}


def test_the_shopping_list_of_the_least_harm(panel_piece, start, balloons):
    """A flag in three equal bands, 480 cells: 160 each. Of red 60 are free, of all others plenty; no other colour is
    near red, so exactly what is missing is bought, and both pictures are the flag itself."""
    free = dict.fromkeys(start.palette, PLENTY) | {balloons["red"].pk: 60}
    panel_piece.count = 2
    done = bought(start, flag(), catalogue=catalogue_now(), piece=panel_piece, free=free)
    to_buy = {item.id: int(number) for item, number in zip(done.items, done.buy, strict=True) if number}
    spares = 13  # 4 % of 320, rounded up: bought without them, the colours page would still call red short
    assert to_buy == {balloons["red"].pk: 2 * 160 + spares - 60}, "two alike share what is free"
    assert done.shortfall.tolist() == done.buy.tolist() and done.chart == done.free_chart
    assert done.mean_de == pytest.approx(done.free_mean_de)


def test_spares_alone_are_bought_too(panel_piece, start, balloons):
    """160 red cells of 160 free: the picture lacks nothing, but 4 % spares, 7, are to buy, as the page says 7 short."""
    free = dict.fromkeys(start.palette, PLENTY) | {balloons["red"].pk: 160}
    done = bought(start, flag(), catalogue=catalogue_now(), piece=panel_piece, free=free)
    assert {item.id: int(n) for item, n in zip(done.items, done.buy, strict=True) if n} == {balloons["red"].pk: 7}


def test_what_helps_little_is_not_bought(panel_piece, start):
    free = dict.fromkeys(start.palette, 55)
    done = bought(start, sent("astronaut"), catalogue=catalogue_now(), piece=panel_piece, free=free)
    assert done.buy.sum() < done.shortfall.sum() and done.free_mean_de < done.mean_de
    used = np.bincount(done.chart.cells.ravel(), minlength=12)
    assert all(used <= 55 + done.buy)
