"""A piece's page calls short what its event's stock page calls short, with spares; and beside other pieces its own part
of that, as its colours, its cells and its cost do."""

import re
from html import unescape

from django.urls import reverse

from jobs.designs.models import Piece
from jobs.desk.stock import event_needs
from tests.jobs.desk.test_closers import booked, event, latex, panel, panel_piece, sheets, stocked
from tests.shelf import only

__all__ = ["booked", "event", "latex", "panel", "panel_piece", "sheets", "stocked"]


def page(client, piece: Piece, name: str) -> str:
    return unescape(client.get(reverse(f"jobs:{name}", args=[piece.event_id, piece.pk])).content.decode())


def told(text: str) -> dict[str, int]:
    """{colour: how many are short}, as a page says it under its balloons."""
    (pal,) = re.findall(r'<ul class="pal">(.*?)</ul>', text, re.S)
    found = {}
    for row in re.findall(r"<li.*?</li>", pal, re.S):
        words = re.search(r"</svg>\s*(?:</span>)?\s*([^<]+)<br>", row).group(1).strip()
        short = re.search(r"([\d,]+)\s+short", row)
        found[words] = int(short.group(1).replace(",", "")) if short else 0
    return found


def by_the_event(event) -> dict[str, int]:
    return {line.need.label: line.short for line in event_needs(event).lines if line.need.what == "latex"}


def test_a_piece_and_its_event_call_the_same_short(as_planner, booked, panel_piece, stocked):
    """By hand: 286 red cells and 4 % spares are 297.44, so 298. 290 are there."""
    stock(stocked, red=290)
    text = page(as_planner, panel_piece, "piece")
    assert told(text) == by_the_event(booked) == {"red": 8, "sky": 0}
    assert "286 used here, 290 free" in text and "with 12 spare<" in text


def test_beside_another_piece_its_own_shortage_and_the_events_are_both_told(as_planner, booked, panel_piece, stocked):
    """By hand: two panels take 572 red and 22.88, so 595 of 290: 305 short. The other one takes its 298 first, so that
    none of 290 is left for this one and its own 298 are short; of 400 it gets 102 and lacks 196, beside 195 that both
    lack together: spares are rounded up once or twice."""
    beside(panel_piece)
    for there, own, together in ((290, 298, 305), (400, 195, 195)):
        stock(stocked, red=there)
        text = page(as_planner, panel_piece, "piece")
        assert by_the_event(booked)["red"] == together
        assert told(text)["red"] == own
        assert f"286 used here, {there} free" in text and f"the whole event takes 595, {together} short" in text
    colours = page(as_planner, panel_piece, "panel-colours")
    assert told(colours)["red"] == 196
    assert "196 balloons short<small>the event's other pieces take theirs first" in colours
    figures = page(as_planner, panel_piece, "panel-figures")
    assert "196 balloons<small>not free once the event's other pieces have theirs" in figures


def stock(stocked, **there: int) -> None:
    for colour, number in ({"sky": 900} | there).items():
        only(stocked[colour], number)


def beside(piece: Piece) -> None:
    """The same panel once more."""
    chart, second = piece.panel, Piece.objects.get(pk=piece.pk)
    second.pk, second.position, second.title = None, 1, "Lighthouse, the back"
    second.save()
    chart.pk, chart.piece = None, second
    chart.save()
    piece.refresh_from_db()
