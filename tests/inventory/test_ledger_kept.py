"""The ledger only grows: no way that the program has changes or removes a line of it."""

import pytest
from django.db import transaction
from django.db.models import F, ProtectedError

from inventory.models import Item, Lot, Movement
from tests.inventory.conftest import on_shelf

pytestmark = pytest.mark.django_db

WAYS = {
    "update": lambda lines: lines.update(store=F("store") + 1),
    "delete": lambda lines: lines.delete(),
    "bulk_update": lambda lines: lines.bulk_update(list(lines), ["store"]),
    "update_or_create": lambda lines: lines.update_or_create(pk=lines.first().pk, defaults={"store": 7}),
    "ignored": lambda lines: lines.bulk_create(
        list(lines), update_conflicts=True, update_fields=["store"], unique_fields=["pk"]
    ),
    "raw delete": lambda lines: lines._raw_delete("default"),
    "save": lambda lines: lines.first().save(),
    "one's delete": lambda lines: lines.first().delete(),
}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("of", ["table", "lot", "item"])
def test_no_line_is_changed_or_removed(sky, way, of):
    lot = on_shelf(sky, 12)
    lines = {
        "table": lambda: Movement.objects.all(),
        "lot": lambda: lot.movements.all(),
        "item": lambda: Item.objects.get(pk=sky.pk).movements.all(),
    }[of]()
    before = list(Movement.objects.values_list())
    with pytest.raises(TypeError, match="ledger"), transaction.atomic():
        WAYS[way](lines)
    assert list(Movement.objects.values_list()) == before


def test_what_a_line_stands_on_cannot_be_taken_from_under_it(sky):
    lot = on_shelf(sky, 12)
    for row in (lot, Item.objects.get(pk=sky.pk)):
        with pytest.raises(ProtectedError):
            row.delete()
    assert Lot.objects.count() == Movement.objects.count() == 1


def test_a_person_who_leaves_stays_a_signature_less(sky, owner):
    """The line stays; only the name under it goes, as the law on personal data may ask."""
    lot = on_shelf(sky, 12)
    Movement(lot=lot, item_id=sky.pk, kind="counted", store=-1, by=owner).save()
    owner.delete()
    assert list(Movement.objects.values_list("store", "by")) == [(12, None), (-1, None)]
