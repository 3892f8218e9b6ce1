"""A piece's page calls short what its event's stock page calls short: with spares, and with the other pieces."""

import re
from html import unescape

import pytest
from django.urls import reverse

from jobs.designs.models import Piece
from jobs.desk.stock import event_needs
from tests.jobs.desk.test_closers import booked, event, latex, panel, panel_piece, sheets, stocked
from tests.shelf import only

__all__ = ["booked", "event", "latex", "panel", "panel_piece", "sheets", "stocked"]


def told(client, piece: Piece) -> dict[str, int]:
    """{colour: how many are short}, as the page says it under its balloons."""
    text = unescape(client.get(reverse("jobs:piece", args=[piece.event_id, piece.pk])).content.decode())
    (pal,) = re.findall(r'<ul class="pal">(.*?)</ul>', text, re.S)
    found = {}
    for row in re.findall(r"<li.*?</li>", pal, re.S):
        words = re.search(r"</svg>\s*(?:</span>)?\s*([^<]+)<br>", row).group(1).strip()
        short = re.search(r"([\d,]+)\s+short", row)
        found[words] = int(short.group(1).replace(",", "")) if short else 0
    return found


def by_the_event(event) -> dict[str, int]:
    return {line.need.label: line.short for line in event_needs(event).lines if line.need.what == "latex"}


@pytest.mark.parametrize(("pieces", "red_short"), [(1, 8), (2, 305)])
def test_a_piece_and_its_event_call_the_same_short(as_planner, booked, panel_piece, stocked, pieces, red_short):
    """By hand: 286 red cells a panel and 4 % spares are 297.44, so 298; two panels take 572 and 22.88, so 595. 290 are
    there."""
    for colour, there in (("red", 290), ("sky", 900)):
        only(stocked[colour], there)
    if pieces == 2:
        chart = panel_piece.panel
        second = Piece.objects.get(pk=panel_piece.pk)
        second.pk, second.position, second.title = None, 1, "Lighthouse, the back"
        second.save()
        chart.pk, chart.piece = None, second
        chart.save()
    found = told(as_planner, Piece.objects.get(pk=panel_piece.pk))
    assert found == by_the_event(booked)
    assert sorted(found.values()) == [0, red_short]
