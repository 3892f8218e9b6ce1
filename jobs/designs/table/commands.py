"""The table's commands: a row is in, a row is not. They come from the outbox, late and perhaps twice."""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.utils import timezone

from decor.studio.commands import Command, Refused
from decor.studio.numbers import MOST_ID
from jobs.designs.catalogue import catalogue_now
from jobs.designs.models import LoadedRow, Panel
from jobs.designs.table import services
from jobs.designs.table.lines import UPS, faces_of, lines_of, sheet_key, table_sheets
from jobs.designs.table.who import may_load

MOST = 100_000


def row_loaded(told: Command) -> dict[str, Any]:
    panel, said = _said(told)
    services.row_load(panel=panel, by=told.user, at=told.at, **said)
    return rows_now(panel, said["chart_key"], said["face"], said["sheet_number"])


def row_unloaded(told: Command) -> dict[str, Any]:
    panel, said = _said(told)
    services.row_unload(panel=panel, **said)
    return rows_now(panel, said["chart_key"], said["face"], said["sheet_number"])


def rows_now(panel: Panel, chart_key: str, face: int, sheet_number: int) -> dict[str, Any]:
    """All rows of this sheet that are in, and when that was so: the page keeps the newest."""
    at = timezone.now()
    found = LoadedRow.objects.filter(panel=panel, chart_key=chart_key, face=face, sheet_number=sheet_number)
    return {"rows": sorted(found.values_list("row", flat=True)), "at": at.isoformat(), "chart_key": chart_key}


def _said(told: Command) -> tuple[Panel, dict[str, Any]]:
    body = told.body
    panel = _panel(body.get("panel"))
    if panel is None:
        raise Refused("This panel is no longer in the studio's books.")
    if not may_load(told.user, panel.piece.event_id):
        raise PermissionDenied
    key = body.get("chart_key")
    if not (isinstance(key, str) and services.CHART_KEY.fullmatch(key)):
        raise Refused("The page did not say which chart it is of. Reload it.")
    said = {"chart_key": key} | {
        name: _number(body.get(given), given) for name, given in (("face", "face"), ("sheet_number", "sheet"))
    }
    said["row"] = _number(body.get("row"), "row")
    _check_on_the_chart(panel, **said)
    return panel, said


def _panel(number: object) -> Panel | None:
    if type(number) is not int or not 0 < number <= MOST_ID:
        return None
    return Panel.objects.select_related("piece__event__venue").filter(pk=number).first()


def _number(value: object, name: str) -> int:
    if type(value) is not int or not 0 <= value <= MOST:
        raise Refused(f"The page did not say which {name} it is. Reload it.")
    return value


def _check_on_the_chart(panel: Panel, *, chart_key: str, face: int, sheet_number: int, row: int) -> None:
    """Only while the chart is still that one: what was loaded from an earlier chart is kept as it was said."""
    if face not in faces_of(panel):
        raise Refused("This panel has no second sheet to load.")
    key, up = chart_key.split(":")
    try:
        sheets = table_sheets(panel, catalogue_now())
    except ValueError:
        return
    sheet = next((one for one in sheets if one.number == sheet_number), None)
    if sheet is None or sheet_key(panel, sheet) != key:
        return
    turned = next(one for one in UPS if one == up)
    if row not in {line.number for line in lines_of(panel, sheet, turned)}:
        raise Refused(f"Sheet {sheet_number} has no balloons in row {row}.")
