"""Numbers out of addresses and hidden fields, which anybody can write."""

MOST_ID = 2**63 - 1
"""What a row's number can be: the databases refuse more, each in its own way."""


def whole(text: str, *, otherwise: int = 0) -> int:
    """Plain digits as a number a row could have, anything else as `otherwise`. int() by itself falls over "²",
    which counts as a digit, and over five thousand nines.

    >>> whole("12"), whole("²"), whole("-1"), whole("9" * 5000, otherwise=1)
    (12, 0, 0, 1)
    """
    plain = text.isascii() and text.isdigit() and len(text) < 19
    return int(text) if plain else otherwise
