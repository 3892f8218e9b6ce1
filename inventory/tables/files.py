"""A file of rows: how it is written (letters, separator), and its cells. Knows nothing of stock."""

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass

from inventory.tables.cells import as_it_was

MOST_BYTES = 10 * 1024 * 1024
MOST_ROWS = 100_000
MOST_COLUMNS = 200
MOST_CELL = 10_000
DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}
_MARKS = [(codecs.BOM_UTF8, "utf-8-sig", "UTF-8"), (codecs.BOM_UTF16_LE, "utf-16", "UTF-16")]
_MARKS += [(codecs.BOM_UTF16_BE, "utf-16", "UTF-16")]
_QUOTED = re.compile(r'"(?:[^"]|"")*"')
_SAID = re.compile(r"sep=(.)\r?\n?")
_STARTS = {
    b"PK\x03\x04": "This is a spreadsheet's own file or an archive. In the spreadsheet, save the list as CSV.",
    b"\xd0\xcf\x11\xe0": "This is an old spreadsheet's own file. In the spreadsheet, save the list as CSV.",
    b"%PDF": "This is a PDF. The list must be a CSV file.",
    b"\xff\xd8\xff": "This is a picture. The list must be a CSV file.",
    b"\x89PNG": "This is a picture. The list must be a CSV file.",
}


LOST = "\ufffd"
"""What stands where a letter can't be read (Unicode's replacement character): its row is told, the others are read."""


class FileRefused(ValueError):
    """Why a file can't be read at all, in words for who sent it."""


@dataclass(frozen=True)
class Text:
    """`guessed`: nothing in the file says how it was written."""

    words: str
    encoding: str
    guessed: bool = False


@dataclass(frozen=True)
class Line:
    """`number` is that of the row's last line in the file, as a text editor counts."""

    number: int
    cells: list[str]


def text_of(data: bytes) -> Text:
    """With LOST for single letters that can't be told; raises FileRefused where the whole can't be."""
    if not data.strip():
        raise FileRefused("This file is empty.")
    if len(data) > MOST_BYTES:
        raise FileRefused(f"This file is {-(-len(data) // 2**20)} MB; the most is 10 MB. Send it in parts.")
    for start, words in _STARTS.items():
        if data.startswith(start):
            raise FileRefused(words)
    if data.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        raise FileRefused("This file is written as UTF-32. Save it as UTF-8 and send that.")
    for mark, codec, name in _MARKS:
        if data.startswith(mark):
            return Text(_no_nothing(_decoded(data, codec)), name)
    if b"\0" in data:
        raise FileRefused(_nothing_words(data))
    with suppress(UnicodeDecodeError):
        return Text(data.decode("utf-8"), "UTF-8")
    words = data.decode("utf-8", "replace")
    lost = words.count(LOST)
    whole = len(words) - len(words.encode("ascii", "ignore")) - lost
    # Letters of several bytes that fit together are hardly there by chance: then it is UTF-8 with broken rows in it.
    if whole >= lost:
        return Text(words, "UTF-8")
    return Text(data.decode("cp1252", "replace"), "Windows-1252", guessed=True)


def _decoded(data: bytes, codec: str) -> str:
    if codec != "utf-16":
        return data.decode(codec, "replace")
    try:
        return data.decode(codec)
    except UnicodeDecodeError:
        raise FileRefused("This file is marked as UTF-16, and breaks off or is damaged. Save it anew.") from None


def _no_nothing(words: str) -> str:
    if "\0" in words:
        raise FileRefused("There are characters in this file that are none (NUL). Save it anew as UTF-8.")
    return words


def _nothing_words(data: bytes) -> str:
    even, odd = data[0:4096:2].count(0), data[1:4096:2].count(0)
    if max(even, odd) > 4 * max(1, min(even, odd)):
        return "This file looks like UTF-16 without its mark. Save it as UTF-8 and send that."
    return "This is no text: there are characters in it that are none (NUL). The list must be a CSV file."


def delimiter_of(words: str, known: Callable[[str], bool]) -> str:
    """By its first row: whichever gives the most headings that are known, then whichever is there most often.

    >>> delimiter_of("Name;Pack price, each;Bin", {"Name", "Bin"}.__contains__)
    ';'
    """
    if said := _SAID.match(words):
        return said[1]
    first = _QUOTED.sub(lambda found: found[0].replace("\n", " "), words.lstrip("\r\n")[:50_000]).split("\n", 1)[0]
    bare = _QUOTED.sub("x", first)

    def weight(delimiter: str) -> tuple[int, int]:
        cells = next(csv.reader([first], delimiter=delimiter), [])
        return sum(known(as_it_was(cell).strip()) for cell in cells), bare.count(delimiter)

    return max(DELIMITERS, key=weight)


def lines_of(words: str, delimiter: str) -> Iterator[Line]:
    """Rows that are not empty, the headings first; cells as they were before they were defused.

    Raises FileRefused, also while it is read: quotes that don't close, too many rows, far too long a cell."""
    if said := _SAID.match(words):
        words = words[said.end() :]
    reader = csv.reader(io.StringIO(words, newline=""), delimiter=delimiter, strict=True)
    rows = 0
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as wrong:
            raise FileRefused(_csv_words(reader.line_num, str(wrong))) from None
        if not any(cell.strip() for cell in cells):
            continue
        rows += 1
        if rows > MOST_ROWS + 1:
            raise FileRefused(f"This file has more than {MOST_ROWS:,} rows. Send it in parts.")
        if len(cells) > MOST_COLUMNS:
            raise FileRefused(f"Line {reader.line_num:,} has {len(cells):,} cells; the most is {MOST_COLUMNS}.")
        if any(len(cell) > MOST_CELL for cell in cells):
            raise FileRefused(f"Line {reader.line_num:,} has a cell of more than {MOST_CELL:,} letters.")
        yield Line(reader.line_num, [as_it_was(cell).strip() for cell in cells])


def _csv_words(line: int, wrong: str) -> str:
    if "field larger" in wrong:
        return f"Line {line:,} has a cell of more than {MOST_CELL:,} letters."
    if "unexpected end" in wrong:
        return "A quotation mark is opened and never closed, so the rows can't be told apart."
    return f"Line {line:,} has a quotation mark in the wrong place: inside a cell it must be doubled."
