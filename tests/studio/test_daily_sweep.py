from datetime import timedelta

from django.utils import timezone

from decor.studio.models import RequestKey
from jobs.tasks import daily_sweep


def test_keys_of_forms_that_nobody_has_open_any_more_are_dropped(db):
    now = timezone.now()
    for key, days in (("old", 8), ("new", 6)):
        RequestKey.objects.create(scope="somebody", key=key, body_hash="0" * 64)
        RequestKey.objects.filter(key=key).update(created=now - timedelta(days=days))
    daily_sweep()
    assert [row.key for row in RequestKey.objects.all()] == ["new"]
