"""How a panel's chart is made, as data: from which picture or words, how it is framed, which colours it may take.

A recipe is kept as plain JSON beside the chart it made, so that another size, sheet or stock makes the chart anew.
A key that is missing has its default, so that older recipes stay readable; one that is not known is refused, as a
newer program's recipe would otherwise be read wrongly and saved without what it said.
"""

import base64
import binascii
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

SOURCES = ("picture", "words", "pattern", "paper", "kept")
TURNS = (0, 90, 180, 270)
GROUNDS = ("keep", "empty", "colour")
HEIGHTS = ("small", "middle", "large")
ALIGNS = ("left", "centre", "right")
OUTLINES = ("whole", "round", "heart", "arch", "letters", "see-through", "painted")
KINDS = ("auto", "flat", "photograph")
DIFFUSIONS = ("auto", "none", "some", "full")
FOCUSES = ("none", "found", "painted")
LOADINGS = ("paired", "two-sided", "sandwich", "strung")
MOST_TEXT = 200
MOST_FOCUS = 8.0

Check = Callable[[Any], Any]
Part = TypeVar("Part")


class RecipeRefused(ValueError):
    """Why a kept recipe cannot be read, in words."""


def _one_of(choices: Iterable[Any]) -> Check:
    known = tuple(choices)

    def check(value: Any) -> Any:
        if value not in known or isinstance(value, bool):
            raise ValueError(f"is one of {', '.join(map(str, known))}, not {value!r}")
        return value

    return check


def _number(least: float, most: float) -> Check:
    def check(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            raise ValueError(f"is a number from {least:g} to {most:g}, not {value!r}")
        return float(value)

    return check


def _whole(least: int, *, open_end: bool = False) -> Check:
    def check(value: Any) -> int | None:
        if value is None and open_end:
            return None
        if isinstance(value, bool) or not isinstance(value, int) or value < least:
            raise ValueError(f"is a whole number from {least}, not {value!r}")
        return value

    return check


def _yes_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"is yes or no, not {value!r}")
    return value


def _text(most: int) -> Check:
    def check(value: Any) -> str:
        if not isinstance(value, str) or len(value) > most:
            raise ValueError(f"is a text of at most {most} letters")
        return value

    return check


def _ids(value: Any) -> tuple[int, ...]:
    if not isinstance(value, list | tuple):
        raise ValueError(f"is a list of balloons, not {value!r}")
    return tuple(_whole(1)(number) for number in value)


def _cells(value: Any) -> str:
    """Cells, a bit each, as `bits_text` writes them; empty where there are none."""
    if not isinstance(value, str):
        raise ValueError("is a text")
    try:
        base64.b64decode(value, validate=True)
    except (binascii.Error, ValueError):
        raise ValueError("holds no marked cells") from None
    return value


def _by(check: Check, *, default: Any) -> Any:
    return field(default=default, metadata={"check": check})


@dataclass(frozen=True)
class Ground:
    """What happens to a picture's plain background: kept, left without balloons, or in one colour."""

    act: str = _by(_one_of(GROUNDS), default="keep")
    latex: int | None = _by(_whole(1, open_end=True), default=None)


@dataclass(frozen=True)
class FramePart:
    """Which part of the upright picture is shown, as fractions of it, and how it is turned and brightened."""

    left: float = _by(_number(0, 1), default=0.0)
    top: float = _by(_number(0, 1), default=0.0)
    right: float = _by(_number(0, 1), default=1.0)
    bottom: float = _by(_number(0, 1), default=1.0)
    turn: int = _by(_one_of(TURNS), default=0)
    level_deg: float = _by(_number(-45, 45), default=0.0)
    brightness: float = _by(_number(-1, 1), default=0.0)
    contrast: float = _by(_number(-1, 1), default=0.0)
    mirror: bool = _by(_yes_no, default=False)
    ground: Ground = Ground()


@dataclass(frozen=True)
class WordColours:
    letter: int | None = _by(_whole(1, open_end=True), default=None)
    outline: int | None = _by(_whole(1, open_end=True), default=None)
    shadow: int | None = _by(_whole(1, open_end=True), default=None)
    ground: int | None = _by(_whole(1, open_end=True), default=None)


@dataclass(frozen=True)
class Words:
    """`text` in our own letters; its lines are parted by line ends. A ground of None is left without balloons."""

    text: str = _by(_text(MOST_TEXT), default="")
    height: str = _by(_one_of(HEIGHTS), default="middle")
    align: str = _by(_one_of(ALIGNS), default="centre")
    outline: bool = _by(_yes_no, default=False)
    shadow: bool = _by(_yes_no, default=False)
    slanted: bool = _by(_yes_no, default=False)
    colours: WordColours = WordColours()


@dataclass(frozen=True)
class Pattern:
    """`options` is what its kind takes besides, such as a stripe's width in cells; in JSON it stands beside
    the other keys."""

    kind: str = _by(_text(20), default="")
    colours: tuple[int, ...] = _by(_ids, default=())
    options: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Outline:
    """Which cells are used; `text` is what is written where the outline is letters, `cells` where it is painted."""

    kind: str = _by(_one_of(OUTLINES), default="whole")
    text: str = _by(_text(MOST_TEXT), default="")
    cells: str = _by(_cells, default="")


@dataclass(frozen=True)
class Focus:
    """What keeps its colours while the rest gives; `strength` is how many times it counts."""

    act: str = _by(_one_of(FOCUSES), default="none")
    strength: float = _by(_number(1, MOST_FOCUS), default=3.0)
    cells: str = _by(_cells, default="")


@dataclass(frozen=True)
class Recipe:
    source: str = _by(_one_of(SOURCES), default="picture")
    of_cells: bool = _by(_yes_no, default=False)
    """The picture is a chart drawn cell by cell, such as a kept panel's."""
    frame: FramePart = FramePart()
    words: Words = Words()
    pattern: Pattern = Pattern()
    outline: Outline = Outline()
    kind: str = _by(_one_of(KINDS), default="auto")
    diffusion: str = _by(_one_of(DIFFUSIONS), default="auto")
    calm_ground: bool = _by(_yes_no, default=True)
    most_colours: int | None = _by(_whole(1, open_end=True), default=None)
    must: tuple[int, ...] = _by(_ids, default=())
    must_not: tuple[int, ...] = _by(_ids, default=())
    palette: tuple[int, ...] = _by(_ids, default=())
    within_stock: bool = _by(_yes_no, default=False)
    focus: Focus = Focus()
    gather: bool = _by(_yes_no, default=False)
    keep_painted: bool = _by(_yes_no, default=True)
    sheet: int = _by(_whole(0), default=0)
    rows: int = _by(_whole(0), default=0)
    columns: int = _by(_whole(0), default=0)
    loading: str = _by(_one_of(LOADINGS), default="paired")

    @property
    def cells(self) -> int:
        return self.rows * self.columns

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> "Recipe":
        """Raises RecipeRefused."""
        return _read(cls, plain, "recipe")

    def to_plain(self) -> dict[str, Any]:
        return _plain(self)


def _read(part: type[Part], plain: Any, where: str) -> Part:
    if not isinstance(plain, Mapping):
        raise RecipeRefused(f"{where}: is no set of keys")
    known = {one.name: one for one in fields(part) if one.name != "options"}  # type: ignore[arg-type]
    extra = {name: value for name, value in plain.items() if name not in known}
    given = {name: _read_field(known[name], plain[name], f"{where}.{name}") for name in known if name in plain}
    if part is Pattern:
        given["options"] = {name: _option(value, f"{where}.{name}") for name, value in extra.items()}
    elif extra:
        names = ", ".join(sorted(map(str, extra)))
        raise RecipeRefused(f"This chart was made by a newer version of the program, which also said {names}.")
    return part(**given)


def _read_field(one: Any, value: Any, where: str) -> Any:
    if is_dataclass(one.default):
        return _read(type(one.default), value, where)
    try:
        return one.metadata["check"](value)
    except ValueError as wrong:
        raise RecipeRefused(f"{where}: {wrong}") from None


def _option(value: Any, where: str) -> Any:
    if not isinstance(value, bool | int | float | str) and value is not None:
        raise RecipeRefused(f"{where}: is a number or a word, not {value!r}")
    return value


def _plain(part: Any) -> dict[str, Any]:
    plain: dict[str, Any] = {}
    for one in fields(part):
        value = getattr(part, one.name)
        if one.name == "options":
            plain |= dict(value)
        elif is_dataclass(value):
            plain[one.name] = _plain(value)
        else:
            plain[one.name] = list(value) if isinstance(value, tuple) else value
    return plain


def bits_text(marked: npt.ArrayLike) -> str:
    """Marked cells, row by row, as text; empty where none is marked."""
    bits = np.asarray(marked, dtype=bool).ravel()
    return base64.b64encode(np.packbits(bits).tobytes()).decode() if bits.any() else ""


def text_bits(text: str, cells: int) -> npt.NDArray[np.bool_]:
    """(cells,) of `bits_text`; none are marked where the text is of another size."""
    return bytes_bits(base64.b64decode(text), cells)


def bytes_bits(data: bytes, cells: int) -> npt.NDArray[np.bool_]:
    """(cells,) of numpy.packbits' bytes, as Panel keeps them."""
    if len(data) != -(-cells // 8):
        return np.zeros(cells, dtype=bool)
    return np.unpackbits(np.frombuffer(data, dtype=np.uint8), count=cells).astype(bool)
