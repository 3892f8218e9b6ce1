"""What the chart editor sends from its outbox: `chart.paint`, one stroke at a time.

`entity` is `panel:<id>`. The body has `size` [rows, columns] and `palette` (latex item ids) as the page knew them,
`runs` (see merging.py), and `layer`: `cells`; or `locks`, where 1 locks a cell and 0 unlocks it; or `outline`, without
runs: the cells that have balloons by then become the panel's outline."""

from datetime import timedelta
from typing import Any

from django.utils import timezone

from decor.studio import commands
from decor.studio.models import AppliedCommand, User
from jobs.designs.catalogue import catalogue_now
from jobs.designs.editor import services
from jobs.designs.editor.merging import stroke_of_runs
from jobs.designs.editor.shown import offered, saved_words
from jobs.designs.models import Panel

NAME = "chart.paint"
LATELY = timedelta(days=2)


def register() -> None:
    commands.register(NAME, chart_paint)


def chart_paint(told: commands.Command) -> dict[str, Any]:
    """Raises Refused; Conflict where the chart has another size now."""
    panel = _panel(told.entity)
    size, palette = [panel.rows, panel.columns], told.body.get("palette")
    if told.body.get("size") != size:
        raise commands.Conflict({"panel": panel.pk, "version": panel.version, "remade": True, "size": size})
    if not isinstance(palette, list) or any(type(item) is not int for item in palette):
        raise commands.Refused("The page did not say which colours it knew. Reload it.")
    try:
        done = _done(panel, told.body.get("layer"), told.body.get("runs"), palette)
    except ValueError as refusal:
        raise commands.Refused(str(refusal)) from refusal
    return {
        "panel": panel.pk,
        "version": done.panel.version,
        "before": done.before,
        "palette": done.panel.palette,
        "saved": saved_words(done.panel),
        "disputed": done.disputed,
        "who": _others(panel, told.user) if done.disputed else "",
    }


def _done(panel: Panel, layer: object, runs: Any, palette: list[int]) -> services.Painted:
    if layer == "outline":
        return services.outline_keep(panel=panel)
    stroke = stroke_of_runs(runs, panel.rows * panel.columns)
    if layer == "locks":
        return services.cells_lock(panel=panel, stroke=stroke)
    addable = {item.id for item in offered(panel, catalogue_now())}
    return services.cells_paint(panel=panel, stroke=stroke, palette=palette, addable=addable)


def _panel(entity: str) -> Panel:
    number = entity.removeprefix("panel:")
    found = Panel.objects.filter(pk=int(number)).first() if number.isascii() and number.isdecimal() else None
    if found is None:
        raise commands.Refused("This panel's chart is gone: its piece was removed.")
    return found


def _others(panel: Panel, user: User) -> str:
    """Who else painted this chart lately; nobody by name where that cannot be told."""
    lately = AppliedCommand.objects.filter(command=NAME, answer__panel=panel.pk, created__gt=timezone.now() - LATELY)
    names = {str(one.user) for one in lately.exclude(user=user).select_related("user").order_by("-pk")[:50]}
    if not names:
        return "Somebody else, or you on another screen,"
    return names.pop() if len(names) == 1 else " or ".join(sorted(names))
