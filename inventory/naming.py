"""Which item somebody means who types a name, or a number from a label."""

import re
from collections import defaultdict

from decor.studio.numbers import whole
from inventory.models import Item

MOST_NEAR = 4
One = tuple[int, str]


def _words(name: str) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", name.lower()))


class Names:
    """Of all items in use, (item id, name) each, read once."""

    def __init__(self) -> None:
        rows = Item.objects.filter(active=True).order_by("name").values_list("pk", "name")
        self.by_name: dict[str, One] = {name.lower(): (pk, name) for pk, name in rows}
        self.by_number: dict[int, One] = {one[0]: one for one in self.by_name.values()}
        self.by_words: dict[frozenset[str], list[One]] = defaultdict(list)
        for lower, one in self.by_name.items():
            self.by_words[_words(lower)].append(one)

    @property
    def offered(self) -> list[str]:
        return [name for name in self.by_name if not name.isdigit()]

    def meant(self, typed: str) -> One | None:
        """By its name in any case; by the same words in any order, "sky 5 in" for the 5 in sky, as long as nothing
        else is called by them; by its number."""
        if found := self.by_name.get(typed.strip().lower()):
            return found
        alike = self.by_words.get(_words(typed), [])
        return alike[0] if len(alike) == 1 else self.by_number.get(whole(typed))

    def unknown(self, typed: str) -> str:
        """What to say of something that is not there, with what is called nearly so."""
        if not typed:
            return "Say what."
        part, words = typed.lower(), _words(typed)
        near = sorted(
            (not lower.startswith(part), part not in lower, name)
            for lower, (_, name) in self.by_name.items()
            if part in lower or (words and all(word in lower for word in words))
        )
        told = "; ".join(name for *_, name in near[:MOST_NEAR])
        return f"There is no “{typed}” in stock" + (f", but {told}." if told else ".")
