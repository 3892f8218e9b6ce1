"""What would close an event's gaps: its panels on other sheets, other colours, other events; shown, never taken."""

import re
from html import unescape

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Lot, Reservation, Sheet
from jobs.designs.catalogue import catalogue_now
from jobs.designs.models import Panel
from jobs.desk import services
from jobs.desk.closers import other_plans
from jobs.estimates.services import estimate_now
from tests.jobs.designs.conftest import event, latex, panel_piece, sheets, stocked
from tests.jobs.desk.conftest import coming

__all__ = ["event", "latex", "panel_piece", "sheets", "stocked"]


@pytest.fixture
def panel(panel_piece, sheets, stocked) -> Panel:
    """26 wide, 22 high, half sky and half red: two large sheets, or six small ones."""
    # Sheets of eleven rows follow each other on a staggered net only where they are cut so.
    Sheet.objects.update(odd_rows_shift=False)
    cells = np.zeros((22, 26), "<i2")
    cells[11:] = 1
    return Panel.objects.create(
        piece=panel_piece, sheet=sheets["large"], rows=22, columns=26,
        palette=[stocked["sky"].pk, stocked["red"].pk], cells=cells.tobytes(),
    )  # fmt: skip


def in_store(item, quantity):
    if quantity:
        Lot.objects.create(item_id=item.pk, quantity=quantity, arrives_on=coming(-9))


@pytest.fixture
def booked(event, panel, studio):
    estimate_now(event=event)
    return event


def page(client, event) -> str:
    answer = client.get(reverse("jobs:event-stock", args=[event.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_same_chart_on_other_sheets(panel, panel_piece, sheets):
    (plan,) = other_plans(panel_piece, sheets["large"].pk, catalogue_now())
    # 22 rows take two sheets of 11, 26 columns three of 9; they meet at 3 + 2 × 2 edges.
    assert {kind.name: n for kind, n in plan.sheets.items()} == {"Net 11 × 9": 6}
    assert plan.joins == 7 and plan.cost == 6 * 9 / 3
    assert other_plans(panel_piece, sheets["small"].pk, catalogue_now()) == []


def test_two_alike_and_in_two_layers_take_four_times_as_many(panel, panel_piece, sheets):
    panel_piece.count = 2
    panel_piece.save()
    panel.loading = "sandwich"
    panel.save()
    panel_piece.refresh_from_db()
    (plan,) = other_plans(panel_piece, sheets["large"].pk, catalogue_now())
    assert list(plan.sheets.values()) == [24]


def test_another_net_does_not_serve(panel, panel_piece, sheets):
    Sheet.objects.filter(pk=sheets["small"].pk).update(pitch_m=0.13)
    assert other_plans(panel_piece, sheets["large"].pk, catalogue_now()) == []


@pytest.mark.parametrize("small, words", [(6, "all free"), (5, "short of 1 of Net 11 × 9")])
def test_the_stock_page_offers_the_plan(as_planner, booked, sheets, small, words):
    in_store(sheets["large"], 1)
    in_store(sheets["small"], small)
    text = page(as_planner, booked)
    assert f"Lighthouse on 6 of Net 11 × 9: {words}" in text and "7 joins, €18.00 for this use" in text
    assert reverse("jobs:panel-sheets", args=[booked.pk, booked.piece_set.get().pk]) in text
    assert "carry as many cells" not in text, "a real plan is better than counting cells"
    assert text.count('class="btn"') == 1 and "Order 1 more of Net 22 × 13" in text


def test_other_colours_and_who_holds_it(as_planner, booked, sheets, stocked, studio):
    """Another event of the same days has half of the red."""
    in_store(sheets["large"], 2)
    from inventory.services import reservation_hold
    from jobs.events.models import Event
    from jobs.events.shelf import event_stock_span

    span = event_stock_span(booked, studio.turn_round_hours)
    held = reservation_hold(
        lines=[(stocked["red"].pk, 200)], starts=span.starts, ends=span.ends, label="0077 Regatta",
        expires=timezone.now() + timezone.timedelta(days=2),
    )  # fmt: skip
    other = Event.objects.get(pk=booked.pk)
    other.pk, other.reservation = None, held
    other.save()
    text = page(as_planner, booked)
    # 286 cells and 4 % spares
    assert "298 asked, 200 free" in text and "98 short" in text
    assert "0077 Regatta has 200" in text and reverse("jobs:event-stock", args=[other.pk]) in text
    assert "ask first, nothing is taken from it here" in text
    assert "plainly another colour" in text and "CIEDE2000" in text
    held.refresh_from_db()
    assert held.lines.get().quantity == 200


def test_too_late_to_order_shows_what_else_would_do(as_planner, booked, sheets):
    in_store(sheets["large"], 1)
    in_store(sheets["small"], 9)
    Sheet.objects.filter(pk=sheets["large"].pk).update(lead_days=365 * 30)
    text = page(as_planner, booked)
    assert "Too late" in text and '<a class="btn" href="#short">See what else would do</a>' in text


def test_to_the_check_and_back_with_its_own_promise_counted_as_free(as_planner, booked, sheets):
    in_store(sheets["large"], 2)
    services.event_hold(event=booked)
    text = page(as_planner, booked)
    href = unescape(re.search(r'href="(/stock/check/[^"]+)"', text).group(1))
    text = as_planner.get(href).content.decode()
    assert "All of it is free." in text and "holds already counts as free here." in text
    assert f'href="{reverse("jobs:event-stock", args=[booked.pk])}">All of it is free: go and hold it' in text
    without = re.sub(r"promise=\d+", "promise=0", href)
    assert "short" in as_planner.get(without).content.decode()
    assert Reservation.objects.count() == 1


def rough(piece, **measures):
    piece.measures = {"rough": True, "loading": "paired", "colours": [], **measures}
    piece.save()


def test_a_rough_panel_is_offered_the_other_sheets_and_keeps_those_that_are_chosen(
    as_planner, event, panel_piece, sheets, stocked, studio
):
    """26 cells wide and 20 high: two of the large ones, of which none is there; or two by three of the small ones,
    which join at three and twice two edges."""
    estimate_now(event=event)
    in_store(sheets["small"], 6)
    text = page(as_planner, event)
    assert "2 asked, 0 free" in text
    assert "Lighthouse on 6 of Net 11 × 9: all free" in text and "7 joins, €18.00 for this use" in text
    assert "carry as many cells" not in text, "a real plan is better than counting cells"
    check = as_planner.get(unescape(re.search(r'href="(/stock/check/[^"]+)"', text).group(1))).content.decode()
    assert "Net 11 × 9: 6 needed, 6 free" in check, "a list knows no panel: 2 × 22 × 13 / (11 × 9) is 5.8"
    assert "smaller: 9 wide, 11 high; so many carry as many cells" in check
    href = unescape(re.search(r'href="([^"]+sheet=[^"]+)"', text).group(1))
    change = reverse("jobs:piece-edit", args=[event.pk, panel_piece.pk])
    assert href == f"{change}?sheet={sheets['small'].pk}"
    form, size = as_planner.get(href).context["forms"]
    assert size["sheet"].value() == sheets["small"].pk
    sent = {field.html_name: field.value() for one in (form, size) for field in one if field.value() is not None}
    as_planner.post(href, sent)
    panel_piece.refresh_from_db()
    assert panel_piece.measures["sheet"] == sheets["small"].pk
    estimate_now(event=event)
    assert "Net 11 × 9<small>6 needed, 6 free" in page(as_planner, event)
    # Changed by its form, it lies on them still; 30 wide takes four of them across.
    form, size = as_planner.get(change).context["forms"]
    sent = {field.html_name: field.value() for one in (form, size) for field in one if field.value() is not None}
    as_planner.post(change, sent | {"width": "30", "request_key": "wider"})
    panel_piece.refresh_from_db()
    assert (panel_piece.measures["width"], panel_piece.measures["sheet"]) == (30, sheets["small"].pk)
    # No longer offered, they are forgotten.
    Sheet.objects.filter(pk=sheets["small"].pk).update(active=False)
    sent = {field.html_name: field.value() for one in as_planner.get(change).context["forms"] for field in one}
    sent = {name: value for name, value in sent.items() if value is not None}
    answer = as_planner.post(change, sent | {"sheet": "", "request_key": "gone"})
    panel_piece.refresh_from_db()
    assert answer.status_code == 302 and "sheet" not in panel_piece.measures


def test_a_rough_panel_on_another_net(sheets, panel_piece, stocked):
    """3 × 2.5 m: 24 by 20 at 127 mm; at 150 mm on a square net 20 by 17, one sheet of 20 by 20. Two alike, in two
    layers, take four."""
    Sheet.objects.filter(pk=sheets["small"].pk).delete()
    other = Sheet.objects.create(
        kind="sheet", name="Wide net", rows=20, columns=20, pitch_m=0.15, sized_diameter_m=0.14, lattice="square",
        pack_price=90, uses=3, returnable=True,
    )  # fmt: skip
    panel_piece.count = 2
    rough(panel_piece, width=3, height=2.5, unit="m", loading="sandwich")
    (plan,) = other_plans(panel_piece, sheets["large"].pk, catalogue_now())
    assert {kind.id: n for kind, n in plan.sheets.items()} == {other.pk: 4} and plan.cost == 4 * 30
    assert other_plans(panel_piece, other.pk, catalogue_now()) == [], "it does not lie on those"
    rough(panel_piece, width=26, height=20, unit="cells")
    assert other_plans(panel_piece, sheets["large"].pk, catalogue_now()) == [], "it would be another size"


def test_few_queries(as_planner, booked, sheets, django_assert_max_num_queries):
    in_store(sheets["large"], 1)
    page(as_planner, booked)
    with django_assert_max_num_queries(52):
        page(as_planner, booked)


def test_few_queries_for_a_rough_panel(
    as_planner, event, panel_piece, sheets, stocked, studio, django_assert_max_num_queries
):
    estimate_now(event=event)
    in_store(sheets["small"], 6)
    assert "Lighthouse on 6 of Net 11 × 9" in page(as_planner, event)
    with django_assert_max_num_queries(52):
        page(as_planner, event)
