"""Cells that a spreadsheet would run as a formula are defused on their way out, and are themselves again on the way in.

OWASP ASVS 5.0, 1.2.10: a cell that starts with one of = + - @ tab CR LF NUL gets an apostrophe before it.
"""

import re

_RUNS = re.compile("'*[=+\\-@\t\r\n\0]")
_DEFUSED = re.compile("''*[=+\\-@\t\r\n\0]")


def defused(cell: str) -> str:
    """An apostrophe of the cell's own gets one more, so that reading it back gives the same cell.

    >>> defused("=1+1"), defused("'=1+1"), defused("star, 45 cm"), defused("'twas")
    ("'=1+1", "''=1+1", 'star, 45 cm', "'twas")
    """
    return f"'{cell}" if _RUNS.match(cell) else cell


def as_it_was(cell: str) -> str:
    """
    >>> as_it_was("'=1+1"), as_it_was("''=1+1"), as_it_was("'twas"), as_it_was("=1+1")
    ('=1+1', "'=1+1", "'twas", '=1+1')
    """
    return cell[1:] if _DEFUSED.match(cell) else cell
