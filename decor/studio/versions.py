"""Two people change one thing: the second save must not bury the first in silence."""

from collections.abc import Iterable

from django import forms
from django.db import models
from django.db.models import F


class Changed(Exception):
    """Somebody saved in between; `now` is what stands in the database."""

    def __init__(self, now: models.Model) -> None:
        super().__init__(f"{now} was changed in the meantime")
        self.now = now


def save_unchanged(instance: models.Model, *, version: int, fields: Iterable[str]) -> None:
    """Write these fields if the row still has this version, in one UPDATE, so that no moment lies between the
    look and the write. Raises Changed."""
    model = type(instance)
    values = {name: getattr(instance, name) for name in fields}
    same = model._default_manager.filter(pk=instance.pk, version=version)
    if not same.update(**values, version=F("version") + 1):
        raise Changed(model._default_manager.get(pk=instance.pk))
    instance.version = version + 1


class VersionMixin(forms.Form):
    """Remembers, through the browser, which version was being changed. Goes before SlipForm or SlipModelForm."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)

    def meet(self, now: object) -> list[tuple[str, str, str]]:
        """After Changed: keep what was entered, let the next save count from `now`, and tell
        (field, yours, theirs) wherever they differ."""
        self.data = self.data.copy()
        self.data[self.add_prefix("version")] = str(now.version)
        theirs = {name: self.value_now(name, now) for name in self.fields if name != "version"}
        return [
            (self.fields[name].label or name, yours, words)
            for name, value in theirs.items()
            if (yours := self._words(name, self.cleaned_data.get(name))) != (words := self._words(name, value))
        ]

    def value_now(self, name: str, now: object) -> object:
        return getattr(now, name, None)

    def _words(self, name: str, value: object) -> str:
        if value in (None, ""):
            return "nothing"
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, float):
            return f"{value:g}"
        field = self.fields[name]
        # A choice of rows (ModelChoiceField) says itself; reading its choices would load every row.
        plain = isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField)
        words = dict(field.choices) if plain else {}
        return str(words.get(value, value))
