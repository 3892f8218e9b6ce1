"""Which items of the store designs point at by their numbers alone."""

from typing import Any

from jobs.designs.models import ChartPaper, EarlierChart, Panel


def items_drawn(ids: list[int]) -> set[int]:
    """Of these items, those in the palette or the recipe of any panel, of an earlier chart or of a chart paper."""
    wanted = set(ids)
    found: set[int] = set()
    for palette, recipe in Panel.objects.values_list("palette", "recipe"):
        found |= wanted & _numbers(palette, recipe)
    for (stood,) in EarlierChart.objects.values_list("stood"):
        found |= wanted & _numbers(stood.get("palette"), stood.get("recipe"))
    for (palette,) in ChartPaper.objects.values_list("palette"):
        found |= wanted & set(palette)
    return found


def _numbers(palette: list[int] | None, recipe: dict[str, Any] | None) -> set[int]:
    recipe = recipe or {}
    return {*(palette or []), *recipe.get("palette", []), recipe.get("sheet", 0)}
