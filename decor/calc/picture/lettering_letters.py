"""A character's letter: drawn, or put together from a letter and its marks by Unicode's own decomposition."""

from __future__ import annotations

import unicodedata
from functools import cache

import numpy as np

from decor.calc.picture.glyphs import Drawn, Face, Height, face, trimmed

ALIKE = str.maketrans(
    "ĐАВЕЅІЈКМНОРСТХУаеѕіјкорсухΑΒΕΖΗΙΚΜΝΟΡΤΥΧνομПГФфҐ❤☆…‐‑‒―ʼ′″∙÷",
    "ÐABESIJKMHOPCTXYaesijĸopcyxABEZHIKMNOPTYXvoµΠΓΦφҐ♥★…--–—’'\"·÷",
)
"""Characters that look like another letter, and are drawn as it."""

EXPANDS = {"<compat>", "<fraction>", "<noBreak>", "<wide>", "<small>"}
"""Kinds of compatibility mapping (Unicode's character data) that lose nothing but a ligature or a width."""

ABOVE = {
    "\u0300": "grave",
    "\u0301": "acute",
    "\u0302": "circumflex",
    "\u0303": "tilde",
    "\u0304": "macron",
    "\u0306": "breve",
    "\u0307": "dot",
    "\u0308": "diaeresis",
    "\u030a": "ring",
    "\u030b": "double-acute",
    "\u030c": "caron",
    "\u0342": "tilde",
}
BELOW = {"\u0323": "dot-below", "\u0326": "comma", "\u0327": "cedilla", "\u0328": "ogonek"}
HOOKED = "dtlL"
"""Letters whose caron is written as a hook at their right (Czech and Slovak)."""
COMMAED = "GKLNRTklnrt"
"""Letters whose cedilla is written as a comma (Latvian; T for Romanian)."""


def speakable(text: str) -> str:
    """The text with what cannot be seen left out, and ligatures, fractions and odd spaces written out."""
    return "".join(_written_out(one) for one in unicodedata.normalize("NFC", text))


def _written_out(character: str) -> str:
    if character in "\t\v\f":
        return " "
    if unicodedata.category(character) == "Cf" or "\ufe00" <= character <= "\ufe0f":
        return ""
    mapped = unicodedata.decomposition(character).split(" ", 1)
    if mapped[0] not in EXPANDS or character in face("small").letters:
        return character
    return unicodedata.normalize("NFKC", character).replace("\u2044", "/")


def characters(line: str) -> list[str]:
    """Each letter with the marks that follow it.

    >>> characters("m\\u0303a")
    ['m̃', 'a']
    """
    found: list[str] = []
    for one in line:
        if found and unicodedata.combining(one):
            found[-1] += one
        else:
            found.append(one)
    return found


@cache
def letter_of(character: str, height: Height) -> Drawn | None:
    """The letter in this height, None where there is none."""
    used = face(height)
    plain = character.translate(ALIKE)
    if plain in used.letters:
        return used.letters[plain]
    parts = unicodedata.normalize("NFD", character)
    base, marks = parts[0].translate(ALIKE), parts[1:]
    if not marks or base not in used.letters or any(one not in ABOVE and one not in BELOW for one in marks):
        return None
    letter = used.letters[{"i": "ı", "j": "ȷ"}.get(base, base) if marks[0] in ABOVE else base]
    for mark in marks:
        letter = _marked(letter, base, mark, used)
    return letter


def _marked(letter: Drawn, base: str, mark: str, used: Face) -> Drawn:
    name = ABOVE.get(mark) or BELOW[mark]
    if name == "caron" and base in HOOKED:
        return _hooked(letter, used.marks["hook"])
    if name == "cedilla" and base == "g":
        return _over(letter, used.marks["turned-comma"], "turned-comma", used)
    if name == "cedilla" and base in COMMAED:
        name = "comma"
    drawn = used.marks[name]
    if name in ("comma", "dot-below"):
        left = (letter.columns - drawn.columns) // 2
        return _joined(letter, drawn, max(letter.bottom, used.baseline) + used.lift, left)
    if mark in BELOW:
        return _hung(letter, drawn, to_the_right=name == "ogonek")
    return _over(letter, drawn, name, used)


def _over(letter: Drawn, mark: Drawn, name: str, used: Face) -> Drawn:
    spare = letter.columns - mark.columns
    left = -(-spare // 2) if name == "acute" else spare // 2
    return _joined(letter, mark, letter.top - used.lift - len(mark.cells), left)


def _hung(letter: Drawn, mark: Drawn, *, to_the_right: bool) -> Drawn:
    """A mark that grows out of the letter's foot: out of its right end, or out of its middle."""
    foot, root = np.flatnonzero(letter.cells[-1]), int(np.flatnonzero(mark.cells[0])[0])
    if to_the_right:
        beyond = mark.columns - 1 - root
        at = int(foot[np.abs(foot - (foot[-1] - beyond)).argmin()])
    else:
        at = int(foot[np.abs(foot - (letter.columns - 1) / 2).argmin()])
    return _joined(letter, mark, letter.bottom, at - root)


def _hooked(letter: Drawn, hook: Drawn) -> Drawn:
    """The hook stands at the top right, as near as it can without touching."""
    left = 0
    while _touching(letter, hook, left):
        left += 1
    return _joined(letter, hook, 0, left)


def _touching(letter: Drawn, hook: Drawn, left: int) -> bool:
    for row, column in np.argwhere(hook.cells).tolist():
        at, across = row - letter.top, column + left
        near = letter.cells[max(0, at - 1) : max(0, at + 2), max(0, across - 1) : max(0, across + 2)]
        # Nor may the letter go on to the right of it in that row.
        beyond = letter.cells[at, across:] if 0 <= at < len(letter.cells) else near
        if near.any() or beyond.any():
            return True
    return False


def _joined(letter: Drawn, mark: Drawn, top: int, left: int) -> Drawn:
    """Both in one array; the mark's first row stands at `top`, its first column at the letter's column `left`."""
    first, shift = min(letter.top, top), max(0, -left)
    rows = max(letter.bottom, top + len(mark.cells)) - first
    cells = np.zeros((rows, max(letter.columns + shift, left + shift + mark.columns)), dtype=bool)
    for drawn, row, column in ((letter, letter.top, shift), (mark, top, left + shift)):
        down, across = drawn.cells.shape
        cells[row - first : row - first + down, column : column + across] |= drawn.cells
    return trimmed(cells, first)
