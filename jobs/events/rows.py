"""How each room tells the event at a glance where it stands."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One line of what · how it stands · state. `state` is a kind of the chip (ok, warn, no, wait, off, none);
    `act` is what should be done about it, as (words, address); the row of greatest `urgency` gives the page its
    one filled button."""

    what: str
    stands: str
    small: str = ""
    state: str = "none"
    state_words: str = "Not yet"
    url: str = ""
    act: tuple[str, str] | None = None
    urgency: int = 0
