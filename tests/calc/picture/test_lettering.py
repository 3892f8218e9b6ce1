"""Our own letters. What has to be drawn: Unicode's own character data (the unicodedata module) for the blocks Latin-1
Supplement and Latin Extended-A; the languages' alphabets from memory, after the manner of CLDR's exemplar characters.
What touches is told by scikit-image's labels of connected cells, what is connected by networkx over the lattice."""

import itertools
import unicodedata

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import binary_dilation
from skimage.measure import label

from decor.calc.picture.glyphs import HEIGHTS, face, strips
from decor.calc.picture.lattice import MOST_CELLS, Lattice
from decor.calc.picture.lettering import LETTER, OUTLINE, SHADOW, NoLetter, TooLong, laid, lettered
from decor.calc.picture.lettering_letters import letter_of, speakable
from decor.calc.picture.lettering_setting import kern

PLAIN = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
SIGNS = ".,:;!?'\"-–—−&+/\\()[]@#%€£$¥¢*=<>_~|‘’“”‚„‹›«»·•°ªº¹²³×÷±§µ♥★¡¿"
LANGUAGES = {  # from memory
    "French": "àâæçéèêëîïôœùûüÿ",
    "German": "äöüßẞ",
    "Spanish": "áéíñóúü¿¡",
    "Portuguese": "ãáàâçéêíõóôú",
    "Italian": "àèéìíòóùú",
    "Nordic": "åäöæøáðéíóúýþǿ",
    "Polish": "ąćęłńóśźż",
    "Czech": "áčďéěíňóřšťúůýž",
    "Slovak": "áäčďéíĺľňóôŕšťúýž",
    "Hungarian": "áéíóöőúüű",
    "Romanian": "ăâîșțşţ",
    "Baltic": "ąčęėįšųūžāčēģīķļņšūžäõöü",
    "Turkish": "çğıöşüİ",
    "Irish": "áéíóúḃċḋḟġṁṗṡṫ",
    "Welsh": "âêîôûŵŷàáäẁẃẅỳýÿ",
    "Maltese": "ċġħż",
    "Croatian": "čćđšž",
}
GREEK = "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩαβγδεζηθικλμνξοπρστυφχψωςάέήίόύώϊϋΐΰ"
CYRILLIC = (
    "АБВГДЕЁЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯабвгдеёжзийклмнопрстуфхцчшщъыьэюя"
    "ІіЇїЄєҐґЎў"  # Ukrainian and Belarusian
)

ALIKE = [
    "–−", "ÐĐ",
    "µμ", "ŢȚ", "ţț", ",‚", "x×",
]  # fmt: skip
"""Characters that may look the same: signs that differ in use only, and letters that type founders draw alike."""


def block(first: int, last: int) -> list[str]:
    return [chr(code) for code in range(first, last + 1) if unicodedata.category(chr(code)) in ("Lu", "Ll")]


LATIN = block(0xC0, 0xFF) + block(0x100, 0x17F)
OF_LANGUAGES = sorted({one for text in LANGUAGES.values() for one in text + text.upper()})
PROMISED = list(dict.fromkeys([*PLAIN, *SIGNS, *LATIN, *OF_LANGUAGES]))


def drawn(character: str, height: str) -> np.ndarray:
    return lettered(character, height=height).cells == LETTER


def test_the_blocks_are_as_long_as_unicode_says():
    assert len(LATIN) == 62 + 128  # U+00C0–00FF without × and ÷; U+0100–017F


@pytest.mark.parametrize("height", HEIGHTS)
def test_every_promised_character_has_a_letter(height):
    for character in PROMISED:
        for one in speakable(character):
            assert letter_of(one, height) is not None, f"{character!r} {unicodedata.name(character)}"


def test_greek_and_cyrillic_are_there_in_the_middle_height():
    missing = [one for one in GREEK + CYRILLIC if letter_of(unicodedata.normalize("NFC", one), "middle") is None]
    assert missing == []


@pytest.mark.parametrize("height", HEIGHTS)
def test_no_two_characters_look_the_same(height):
    """Where each stands in its line counts too: a comma is no apostrophe."""
    seen: dict[tuple, str] = {}
    for character in PROMISED:
        if speakable(character) != character:
            continue
        letter = letter_of(character, height)
        key = (letter.top, letter.cells.shape, letter.cells.tobytes())
        other = seen.setdefault(key, character)
        alike = any(character in group and other in group for group in ALIKE)
        assert other == character or alike, f"{other!r} and {character!r}"


def pieces_of(cells: np.ndarray) -> int:
    """Parts that do not touch, not even cornerwise."""
    return int(label(cells, connectivity=2).max())


@pytest.mark.parametrize("height", HEIGHTS)
def test_strokes_hang_together(height):
    for character in PLAIN:
        expected = 2 if character in "ij" else 1
        assert pieces_of(drawn(character, height)) == expected, character


@pytest.mark.parametrize("height", HEIGHTS)
def test_marks_stand_free_of_their_letter_or_grow_out_of_it(height):
    for character in LATIN:
        parts = unicodedata.normalize("NFD", character)
        if len(parts) != 2:
            continue
        mark = unicodedata.name(parts[1])
        if "OGONEK" in mark or ("CEDILLA" in mark and parts[0] not in "GKLNRTgklnrt"):
            assert pieces_of(drawn(character, height)) == (2 if character == "į" else 1), character  # its dot
        else:
            apart = {"DIAERESIS": 3, "DOUBLE ACUTE": 3}
            expected = next((n for name, n in apart.items() if name in mark), 2)
            assert pieces_of(drawn(character, height)) == expected, character


def test_large_strokes_are_two_cells_thick():
    """No row of a large letter has a cell that stands alone, but the tip of the 1."""
    for character in PLAIN:
        for row in np.pad(drawn(character, "large"), ((0, 0), (1, 1))):
            starts, ends = np.flatnonzero(row[1:] & ~row[:-1]), np.flatnonzero(~row[1:] & row[:-1])
            assert character == "1" or (ends - starts >= 2).all(), character


@pytest.mark.parametrize("height", HEIGHTS)
def test_no_pair_of_letters_touches(height):
    """A letter grown by a cell on all sides (scipy.ndimage) never meets the next one."""
    used = PLAIN + ".,!?'-–&()ÅñđßÍĽťįşģĪőĥ"
    letters = {one: letter_of(one, height) for one in used if letter_of(one, height)}
    rows = 12 + max(one.bottom for one in letters.values())
    grown = {}
    for name, one in letters.items():
        cells = np.zeros((rows, one.columns + 12), dtype=bool)
        cells[one.top + 9 : one.bottom + 9, 6 : 6 + one.columns] = one.cells
        grown[name] = binary_dilation(cells, np.ones((3, 3)))
    for one, other in itertools.product(letters, repeat=2):
        left, next_one = 6 + letters[one].columns + kern(one, other, height), letters[other]
        near = grown[one][next_one.top + 9 : next_one.bottom + 9, left : left + next_one.columns]
        assert not (near & next_one.cells[:, : near.shape[1]]).any(), one + other


@pytest.mark.parametrize("height", HEIGHTS)
def test_straight_letters_keep_the_plain_gap_and_open_pairs_come_closer(height):
    used = face(height)

    def gap(pair: str) -> int:
        widths = [drawn(one, height).shape[1] for one in pair]
        return drawn(pair, height).shape[1] - sum(widths)

    assert gap("HH") == gap("Hl") == gap("IN") == used.gap
    for pair in ("LT", "To", "AV", "Yo", "T."):
        assert used.gap - used.tighter <= gap(pair) <= used.gap, pair
    assert gap("LT") < used.gap and gap("T.") < used.gap


@pytest.mark.parametrize("height", HEIGHTS)
def test_capitals_have_the_height_that_is_said(height):
    expected = {"small": 5, "middle": 7, "large": 12}[height]
    assert {drawn(one, height).shape[0] for one in "ABCDEFGHIJKLMNOPRSTUVWXYZ0123456789"} == {expected}


@pytest.mark.parametrize("height", HEIGHTS)
def test_a_descender_never_meets_an_accent_of_the_next_line(height):
    for upper, lower in (("gjpqy", "ÅÁĤŰĽ"), ("ģķļţ", "ĺĥŤÊÅ"), ("ççş", "ǺǺǺ"), ("A", "A")):
        apart = pieces_of(drawn(upper, height)) + pieces_of(drawn(lower, height))
        for align in ("left", "centre", "right"):
            both = lettered(f"{upper}\n{lower}", height=height, align=align)
            assert pieces_of(both.cells == LETTER) == apart, (upper, lower, align)


def test_lines_stand_where_they_are_told():
    for align, at in (("left", 0), ("centre", 1), ("right", 2)):
        cells = lettered("MMM\nI", height="small", align=align).cells
        column = int(np.flatnonzero(cells[-1])[0])
        assert column == [0, (cells.shape[1] - 1) // 2, cells.shape[1] - 1][at]


def touching(cells: np.ndarray, kind: str) -> nx.Graph:
    graph = nx.Graph()
    graph.add_nodes_from(range(cells.size))
    graph.add_edges_from(Lattice(kind, *cells.shape, 0.1).neighbours().tolist())
    return graph


@pytest.mark.parametrize("kind", ["offset", "hex"])
@pytest.mark.parametrize("slanted", [False, True])
def test_an_outline_is_all_cells_that_touch_a_letter(kind, slanted):
    cells = np.pad(lettered("Ag8", height="middle", outline=True, slanted=slanted, kind=kind).cells, ((2, 2), (1, 1)))
    graph, flat = touching(cells, kind), cells.ravel()
    expected = {other for one in np.flatnonzero(flat == LETTER) for other in graph[int(one)] if flat[other] != LETTER}
    assert set(np.flatnonzero(flat == OUTLINE).tolist()) == expected


def test_an_outline_on_square_goes_round_the_corners():
    cells = lettered("I", height="small", outline=True).cells
    assert cells.tolist() == [[2, 2, 2], *[[2, 1, 2]] * 5, [2, 2, 2]]


def test_a_shadow_falls_down_to_the_right():
    cells = lettered("I", height="small", shadow=True).cells
    assert cells.tolist() == [[1, 0], *[[1, 3]] * 4, [0, 3]]
    large = lettered("I", height="large", shadow=True)
    assert large.counts() == (24, 0, 2 * 13)  # each of two steps adds a column of 12, less one, and two below


@pytest.mark.parametrize("kind", ["offset", "hex"])
def test_slanted_stems_run_straight(kind):
    """Centres of an I's cells lie on one line, which those of an upright one don't."""
    for slanted, straight in ((True, True), (False, False)):
        cells = lettered("I", height="middle", slanted=slanted, kind=kind).cells
        lattice = Lattice(kind, *cells.shape, 0.1)
        at = lattice.centres_m()[cells.ravel() == LETTER]
        off = np.linalg.matrix_rank(at - at.mean(axis=0), tol=1e-6)
        assert (off == 1) == straight


def test_slanted_is_for_staggered_cells():
    with pytest.raises(ValueError, match="slanted"):
        lettered("A", height="large", slanted=True)


def test_what_has_no_letter_is_named_once_each():
    with pytest.raises(NoLetter, match=r"There is no letter for ☃\.") as caught:
        lettered("Snow ☃ and ☃", height="small")
    assert caught.value.characters == ("☃",)
    with pytest.raises(NoLetter, match="☃ and 漢") as caught:
        lettered("☃漢☃", height="large")
    assert caught.value.characters == ("☃", "漢")
    with pytest.raises(NoLetter, match="the middle height has one"):
        lettered("Ж", height="small")
    with pytest.raises(NoLetter, match="U\\+0007"):
        lettered("a\x07", height="small")


def test_words_too_long_say_what_they_need():
    wide = lettered("Birthday", height="small").columns
    with pytest.raises(TooLong, match=f"This needs {wide} cells across; the most is 20.") as caught:
        lettered("Birthday", height="small", most_columns=20)
    assert caught.value.columns == wide
    with pytest.raises(TooLong, match="from top to bottom"):
        lettered("a\nb", height="large", most_rows=12)
    with pytest.raises(TooLong, match="100,000"):
        lettered("\n".join(["MMMMMMMMMM"] * 90), height="large")
    with pytest.raises(TooLong, match="1,001 characters"):
        lettered("a" * 1001, height="small")


@pytest.mark.parametrize("text", ["", "   ", "\n \n", "\u200b\ufe0f"])
def test_no_words_at_all(text):
    with pytest.raises(ValueError, match="There are no words yet"):
        lettered(text, height="small")


@pytest.mark.parametrize("wrong", [{"height": "huge"}, {"align": "top"}, {"kind": "round"}])
def test_other_arguments_are_named(wrong):
    with pytest.raises(ValueError, match=next(iter(wrong))):
        lettered("A", **{"height": "small", **wrong})


def test_ways_of_writing_the_same():
    for one, other in (
        ("e\u0301", "é"), ("ﬁn", "fin"), ("½", "1/2"), ("a\u00a0b", "a b"), ("a  b", "a b"), ("♥\ufe0f", "♥"),
        ("\n A \n", "A"), ("A\r\nB", "A\nB"), ("Ĳ", "IJ"), ("don\u00adna", "donna"), ("wait…", "wait..."),
    ):  # fmt: skip
        assert np.array_equal(lettered(one, height="middle").cells, lettered(other, height="middle").cells), one


def test_words_in_the_middle_of_a_panel():
    lattice = Lattice("square", 11, 21, 0.1)
    cells = laid("HI", lattice, height="small")
    assert cells.shape == (11, 21) and np.flatnonzero(cells.any(axis=1)).tolist() == [3, 4, 5, 6, 7]
    columns = np.flatnonzero(cells.any(axis=0))
    assert columns[0] == (21 - 6) // 2 and columns[-1] == columns[0] + 5
    with pytest.raises(TooLong, match="the most is 21"):
        laid("HIHIHIHI", lattice, height="large")


def test_art_that_is_drawn_wrongly_is_refused():
    with pytest.raises(ValueError, match="art"):
        strips("0: A\n##\n#")
    with pytest.raises(ValueError, match="zip"):
        strips("0: A B\n##\n##")


WRITTEN = st.text(st.sampled_from(PLAIN + SIGNS + "".join(LATIN) + "   \n"), min_size=1, max_size=30)


@settings(max_examples=60, deadline=None)
@given(WRITTEN, st.sampled_from(HEIGHTS), st.booleans(), st.booleans(), st.sampled_from(["square", "hex"]))
def test_any_text(text, height, outline, shadow, kind):
    if not text.strip():
        return
    plain = lettered(text, height=height, kind=kind)
    dressed = lettered(text, height=height, outline=outline, shadow=shadow, kind=kind)
    letters, edge, fallen = dressed.counts()
    assert letters == plain.counts()[0] > 0
    assert (edge > 0) == outline and (fallen > 0) == shadow
    assert dressed.rows * dressed.columns <= MOST_CELLS
    for side in (plain.cells[0], plain.cells[-1], plain.cells[:, 0], plain.cells[:, -1]):
        assert side.any(), "an empty edge"
    assert set(np.unique(dressed.cells)) <= {0, LETTER, OUTLINE, SHADOW}
