"""What is tied before it is loaded, in words: pairs by kind, strings with a slip each, a cell's two balloons."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from decor.calc.picture.chart import EMPTY, Chart
from decor.calc.picture.loading import Bag, Pairs, Strings
from decor.calc.picture.sheets import section_letter


@dataclass(frozen=True)
class Kind:
    """`count` pairs, `between` of them for two rows; of a single balloon, or a cell's two alike, one letter."""

    letters: str
    words: str
    count: int
    between: int = 0
    mixed: bool = False
    single: bool = False


@dataclass(frozen=True)
class SectionKinds:
    """What one section takes, also spelt out: "40 A–A, 3 A–B"."""

    letter: str
    pairs: int
    kinds: tuple[Kind, ...]

    @property
    def words(self) -> str:
        return ", ".join(f"{kind.count:,} {kind.letters}" for kind in self.kinds)


@dataclass(frozen=True)
class PairList:
    pairs: int
    mixed: int
    between: int
    kinds: tuple[Kind, ...]
    singles: tuple[Kind, ...]
    sections: tuple[SectionKinds, ...]

    @property
    def lines(self) -> list[list[Kind]]:
        return in_columns([*self.kinds, *self.singles], 2)


@dataclass(frozen=True)
class UnitList:
    units: int
    kinds: tuple[Kind, ...]
    sections: tuple[SectionKinds, ...]

    @property
    def lines(self) -> list[list[Kind]]:
        return in_columns(self.kinds, 2)


@dataclass(frozen=True)
class Slip:
    """A string's bag: where it begins, where it goes, and what is on it in order."""

    number: int
    section: str
    balloons: int
    starts: str
    words: str
    letters: str


Item = TypeVar("Item")


def in_columns(items: Sequence[Item], columns: int) -> list[list[Item]]:
    """Lines of a table that reads down one column and then the next.

    >>> in_columns([1, 2, 3, 4, 5], 2)
    [[1, 4], [2, 5], [3]]
    """
    high = -(-len(items) // columns)
    return [list(items[line::high]) for line in range(high)]


def pair_list(pairs: Pairs, sections: np.ndarray, letters: Sequence[str], words: Sequence[str]) -> PairList:
    """`sections` (n,) are the cells' section numbers, from 1."""
    of_pair = sections[pairs.pairs[:, 0]] if len(pairs.pairs) else np.empty(0, dtype=np.int64)
    filled = pairs.chart.cells.ravel() != EMPTY
    singles = pairs.single_kinds()
    return PairList(
        pairs=len(pairs.pairs),
        mixed=pairs.mixed,
        between=pairs.between_rows,
        kinds=_pair_kinds(pairs, np.ones(len(pairs.pairs), dtype=bool), letters, words),
        singles=tuple(Kind(letters[one], words[one], n, single=True) for one, n in sorted(singles.items())),
        sections=tuple(
            SectionKinds(section_letter(number), int(inside.sum()), _pair_kinds(pairs, inside, letters, words))
            for number, inside in _each_section(sections[filled], of_pair)
        ),
    )


def _pair_kinds(pairs: Pairs, within: np.ndarray, letters: Sequence[str], words: Sequence[str]) -> tuple[Kind, ...]:
    """Plain kinds first, then the mixed ones, each by how many there are."""
    between = pairs.kinds(within & pairs.is_between_rows)
    kinds = [
        Kind(
            letters=f"{letters[one]}–{letters[other]}",
            words=f"{words[one]} with {words[other]}" if one != other else f"two {words[one]}",
            count=count,
            between=between[one, other],
            mixed=one != other,
        )
        for (one, other), count in pairs.kinds(within).items()
    ]
    return tuple(sorted(kinds, key=lambda kind: (kind.mixed, -kind.count, kind.letters)))


def _each_section(filled: np.ndarray, of_pair: np.ndarray) -> list[tuple[int, np.ndarray]]:
    """The sections that the filled cells lie in, each with which pairs are its own; nothing where there is but one.
    Where no sheet lies there is no section, and no balloon either."""
    numbers = np.unique(filled).tolist()
    return [(number, of_pair == number) for number in numbers] if len(numbers) > 1 else []


def unit_list(chart: Chart, sections: np.ndarray, letters: Sequence[str], words: Sequence[str]) -> UnitList:
    """Cells whose two balloons are of one colour, by that colour."""
    colours = chart.cells.ravel()
    filled = colours != EMPTY

    def kinds(inside: np.ndarray) -> tuple[Kind, ...]:
        numbers, counts = np.unique(colours[inside & filled], return_counts=True)
        return tuple(
            Kind(letters[one], f"two {words[one]}", n) for one, n in zip(numbers.tolist(), counts.tolist(), strict=True)
        )

    return UnitList(
        units=int(filled.sum()),
        kinds=kinds(filled),
        sections=tuple(
            SectionKinds(section_letter(number), int((inside & filled).sum()), kinds(inside))
            for number, inside in _each_section(sections[filled], sections)
        ),
    )


def slips_of(
    strings: Strings, balloons: int, letters: Sequence[str], words: Sequence[str]
) -> tuple[tuple[Slip, ...], str]:
    """A slip for each bag of about so many balloons; and how the strings run, in words."""
    slips = tuple(_slip(strings, bag, letters, words) for bag in strings.bags(balloons))
    return slips, route_words(strings)


def _slip(strings: Strings, bag: Bag, letters: Sequence[str], words: Sequence[str]) -> Slip:
    columns = strings.chart.lattice.columns
    first = int(strings.order[bag.start])
    row, column = divmod(first, columns)
    heading = ""
    if bag.balloons > 1:
        heading = f", going {_heading(first, int(strings.order[bag.start + 1]), columns)}"
    return Slip(
        number=bag.number,
        section=section_letter(bag.block),
        balloons=bag.balloons,
        starts=f"row {row + 1}, column {column + 1}{heading}",
        words=", ".join(f"{length} {words[colour]}" for colour, length in bag.runs),
        letters=", ".join(f"{length} {letters[colour]}" for colour, length in bag.runs),
    )


def _heading(one: int, other: int, columns: int) -> str:
    (row, column), (then_row, then_column) = divmod(one, columns), divmod(other, columns)
    if row != then_row:
        return "down" if then_row > row else "up"
    return "right" if then_column > column else "left"


def route_words(strings: Strings) -> str:
    if strings.route == "winding":
        return "Along the drawn line, from the ring."
    along = {"rows": "along the rows", "columns": "along the columns"}[strings.route]
    return f"From the {strings.corner}, {along}, there and back."
