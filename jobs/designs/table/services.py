"""What is said at the table: rows that are in, rows that are not after all, and who stands where."""

import re
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction

from decor.studio.models import User
from jobs.designs.models import AtSheet, LoadedRow, Panel

CHART_KEY = re.compile(r"[0-9a-f]{40}:(top|left|bottom|right)")
HERE_FOR = timedelta(seconds=90)
"""A phone says where it is every 15 seconds while its page is seen; after this long nobody counts on it."""


@transaction.atomic
def row_load(
    *, panel: Panel, chart_key: str, face: int, sheet_number: int, row: int, by: User, at: datetime
) -> LoadedRow:
    """A row that is in already stays as it was said first. `seconds` are since the same person's row before it, at
    whichever sheet of the panel."""
    before = LoadedRow.objects.filter(panel=panel, by=by, at__lte=at).order_by("-at").values_list("at", flat=True)
    last = before.first()
    made, _ = LoadedRow.objects.get_or_create(
        panel=panel,
        chart_key=chart_key,
        face=face,
        sheet_number=sheet_number,
        row=row,
        defaults={"by": by, "at": at, "seconds": (at - last).total_seconds() if last else None},
    )
    return made


@transaction.atomic
def row_unload(*, panel: Panel, chart_key: str, face: int, sheet_number: int, row: int) -> bool:
    """Whether there was anything to take back."""
    found = LoadedRow.objects.filter(panel=panel, chart_key=chart_key, face=face, sheet_number=sheet_number, row=row)
    return found.delete()[0] > 0


@transaction.atomic
def rows_count_again(*, rows: Iterable[LoadedRow], chart_key: str, by: User, at: datetime) -> int:
    """Rows of an earlier chart that are right for this one too, as somebody at the table says. The old ones stay as
    they were said; the new ones have no time of their own."""
    made = [
        LoadedRow.objects.get_or_create(
            panel_id=row.panel_id,
            chart_key=chart_key,
            face=row.face,
            sheet_number=row.sheet_number,
            row=row.row,
            defaults={"by": by, "at": at},
        )[1]
        for row in rows
    ]
    return sum(made)


def loader_here(*, panel: Panel, user: User, face: int, sheet_number: int, now: datetime) -> None:
    values = {"face": face, "sheet_number": sheet_number, "seen": now}
    AtSheet.objects.update_or_create(panel=panel, user=user, defaults=values)


def loaders_now(panel: Panel, *, now: datetime) -> list[AtSheet]:
    seen = AtSheet.objects.filter(panel=panel, seen__gt=now - HERE_FOR)
    return list(seen.select_related("user").order_by("user__name", "pk"))
