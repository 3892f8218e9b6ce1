"""One input for the event's estimate and for the quick answer."""

from dataclasses import replace
from decimal import Decimal

import pytest

from decor.calc.estimate import input_key
from inventory.models import Cylinder
from jobs.estimates.inputs import asked_pieces, background_now, estimate_input, event_input
from jobs.events.conditions import event_conditions
from tests.jobs.designs.conftest import ROUGH_COLUMN, ROUGH_PANEL

ROUGH = {"count": 1, "built_at": "workshop", "fill": "air"}


def test_asked_and_saved_pieces_give_one_input(event, panel_piece, column_piece, store):
    background = background_now()
    asked = asked_pieces(
        [
            {**ROUGH, "kind": "panel", "title": "Lighthouse", "measures": ROUGH_PANEL},
            {**ROUGH, "kind": "column", "title": "Columns", "count": 2, "measures": ROUGH_COLUMN},
        ]
    )
    rough = estimate_input(pieces=asked, conditions=event_conditions(event), background=background)
    assert input_key(rough) == input_key(event_input(event, background))


def test_the_studios_own_figures_are_in_it(event, column_piece, store, studio):
    studio.rates, studio.van_volume_m3 = {"spares_share": 0.5}, 7.5
    studio.margin_percent, studio.wage_per_hour = Decimal(25), Decimal("21.50")
    studio.save()
    given = event_input(event, background_now())
    assert given.rates.spares_share == 0.5
    assert given.rates.van_room_m3 == 7.5
    assert given.prices.margin_fraction == Decimal("0.25")
    assert given.prices.wage_per_hour == Decimal("21.50")
    assert dict(given.prices.hardware_each)["pole"] == Decimal(18) / 50


def test_helium_is_reckoned_in_the_studios_own_cylinder(event, column_piece, store):
    cylinder = event_input(event, background_now()).prices.cylinder
    assert cylinder.water_volume_m3 == pytest.approx(0.020)
    assert cylinder.gauge_pressure_pa == pytest.approx(200e5)
    assert cylinder.price == 95
    assert cylinder.rent_per_week == 0
    Cylinder.objects.update(rented=True, rent_per_week=Decimal("4.50"))
    assert event_input(event, background_now()).prices.cylinder.rent_per_week == Decimal("4.50")
    # A rent that stayed behind on one of its own is no rent.
    Cylinder.objects.update(rented=False)
    assert event_input(event, background_now()).prices.cylinder.rent_per_week == 0


def test_venue_and_times_are_in_it(event, column_piece, store):
    event.venue.altitude_m, event.venue.temperature_c = 1500, 5
    given = event_input(event, background_now())
    assert given.conditions.altitude_m == 1500
    assert given.conditions.temperature_k == pytest.approx(278.15)
    assert given.conditions.load_in_to_doors_min == 8 * 60
    assert given.conditions.doors_to_end_hours == 6


def test_an_event_without_pieces_says_so(event, store):
    with pytest.raises(ValueError, match="Add a piece first"):
        event_input(event, background_now())


def test_a_piece_that_cannot_be_worked_with_is_named(event, column_piece, store):
    column_piece.kind = "ziggurat"
    column_piece.save()
    with pytest.raises(ValueError, match="Columns: there is no kind of piece called ziggurat"):
        event_input(event, background_now())


def test_what_burst_of_its_own_balloons_is_in_it_and_of_no_others(event, column_piece, store):
    background = background_now()
    taken = {need.key for need in event_input(event, background).pieces[0].measures.needs(background.rates).latex}
    mine = min(key for key in taken if key is not None)
    known = replace(background, burst=((mine, 0.02), (987654, 0.5)))
    given = event_input(event, known)
    assert given.burst == ((mine, 0.02),)
    assert input_key(given) != input_key(event_input(event, background))
