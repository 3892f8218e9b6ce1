"""Words that the stock knows already, offered while one types."""

from collections.abc import Collection, Iterable

from django import forms

from inventory.models import Bin, Item, Supplier


class Suggested(forms.TextInput):
    """A text field that offers words, and takes any other."""

    template_name = "inventory/suggested.html"

    def __init__(self, words: Iterable[str], attrs: dict[str, object] | None = None) -> None:
        super().__init__(attrs)
        self.words = list(words)

    def get_context(self, name: str, value: object, attrs: dict[str, object] | None) -> dict[str, object]:
        context = super().get_context(name, value, attrs)
        context["widget"]["attrs"]["list"] = f"known_{name}"
        return context | {"words": self.words, "list_id": f"known_{name}"}


def suppliers_known() -> list[str]:
    used = Item.objects.exclude(supplier="").order_by().values_list("supplier")
    return _sorted(used.union(Supplier.objects.order_by().values_list("name")))


def bins_known() -> list[str]:
    used = Item.objects.exclude(bin="").order_by().values_list("bin")
    return _sorted(used.union(Bin.objects.order_by().values_list("name")))


def _sorted(rows: Iterable[tuple[str]]) -> list[str]:
    return sorted((word for (word,) in rows), key=str.casefold)


def as_known(typed: str, known: Collection[str]) -> str:
    """One supplier is written one way: "estuary latex" is the "Estuary Latex" that is there already."""
    plain = " ".join(typed.split())
    if plain in known:
        return plain
    return next((word for word in known if word.casefold() == plain.casefold()), plain)
