"""Free between two days or two moments, on the item's page and in the list."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Lot, Sheet
from inventory.picking import pick
from inventory.returning import Ways, take_back
from inventory.services import reservation_confirm
from tests.inventory.conftest import on_shelf
from tests.inventory.test_gaps import hold
from tests.shelf import lost

STOCK = reverse("inventory:stock")


@pytest.fixture
def now():
    return timezone.now()


def on(days: int) -> str:
    return f"{timezone.localdate() + timedelta(days=days):%Y-%m-%d}"


def page(client, item, status=200, **query) -> str:
    answer = client.get(reverse("inventory:item", args=[item.pk]), query)
    assert answer.status_code == status
    return answer.content.decode()


def test_free_between_in_words(as_planner, pole, now):
    on_shelf(pole, 12)
    reservation_confirm(reservation=hold(now, [(pole.pk, 8)], 10, 12))
    text = page(as_planner, pole, first=on(9), last=on(13))
    assert "Yes: 4 free, " in text and "Fewest on " in text and "at other times up to 12." in text
    text = page(as_planner, pole, first=on(20), last=on(21))
    assert "Yes: 12 free, " in text and "The same all the time." in text
    assert f"{reverse('inventory:check')}?item={pole.pk}&amp;n=1&amp;first={on(20)}" in text


def test_none_is_free_and_when_some_are(as_planner, pole, now):
    on_shelf(pole, 8)
    reservation_confirm(reservation=hold(now, [(pole.pk, 8)], 10, 12))
    text = page(as_planner, pole, first=on(10), last=on(11))
    assert "No: none is free, " in text and "Some are free for as long from " in text
    lost(Lot.objects.get(item=pole.pk), 8)
    assert "Nor for as long within eight weeks." in page(as_planner, pole, first=on(10), last=on(11))


def test_a_consumable_keeps_every_later_promise(as_planner, sky, now):
    on_shelf(sky, 600)
    hold(now, [(sky.pk, 500)], 40, 41)
    text = page(as_planner, sky, first=on(2), last=on(2))
    assert "Yes: 100 free, " in text and "Every later promise is kept with that." in text


def test_slips_stand_beside_their_field(as_planner, sky):
    text = page(as_planner, sky, status=422, first=on(-2), last=on(3))
    assert "That day is past." in text and f'value="{on(-2)}"' in text
    assert "It must end after it begins." in page(as_planner, sky, status=422, first=on(3), last=on(2))


def test_where_the_pieces_are(as_planner, sky, pole, now):
    """In the store by the ledger, out with events, and lying there for what has begun or what nobody counted back."""
    on_shelf(pole, 12)
    out = reservation_confirm(reservation=hold(now, [(pole.pk, 8)], 0, 3))
    pick(reservation=out, item=pole, quantity=5)
    text = page(as_planner, pole)
    assert "<b>7</b>" in text and "with events, not counted back" in text and "<b>5</b>" in text
    take_back(reservation=out, item=pole, ways=Ways(back=3, lost=2))
    assert "<b>10</b>" in page(as_planner, pole)
    on_shelf(sky, 600)
    fair = reservation_confirm(reservation=hold(now, [(sky.pk, 100)], -2, 1))
    assert "<b>600</b>" in page(as_planner, sky)
    assert "100 of them are for events under way, not ticked as picked<" in page(as_planner, sky)
    pick(reservation=fair, item=sky, quantity=43)
    text = page(as_planner, sky)
    assert "<b>557</b>" in text and "57 of them are for events under way, not ticked as picked<" in text
    reservation_confirm(reservation=hold(now, [(sky.pk, 1)], -9, -8))
    text = page(as_planner, sky)
    assert "57 of them are for events under way" in text
    assert "1 of them is for events that are over, neither picked nor counted back<" in text


def test_what_spoiled_went_with_nobody(as_planner, sky, now):
    on_shelf(sky, 600, use_by=timezone.localdate() - timedelta(days=3))
    text = page(as_planner, sky)
    assert "<b>600</b>" in text and "of them" not in text and "None here" not in text


def test_what_is_out_is_not_nothing(as_planner, pole, now):
    on_shelf(pole, 4)
    fair = reservation_confirm(reservation=hold(now, [(pole.pk, 4)], 0, 3))
    pick(reservation=fair, item=pole, quantity=4)
    assert "None here and none on order." not in page(as_planner, pole)


def test_weeks_to_choose(as_planner, sky, now):
    on_shelf(sky, 600)
    assert "The coming 8 weeks" in page(as_planner, sky) and "The coming 8 weeks" in page(as_planner, sky, weeks="9")
    text = page(as_planner, sky, weeks="26")
    assert "The coming 26 weeks" in text and 'href="?weeks=26#weeks" aria-current="true"' in text
    assert 'name="weeks" value="26"' in text, "asking about a span keeps it"


def test_what_is_on_order_is_drawn_apart(as_planner, sky, now):
    on_shelf(sky, 100)
    assert "level if" not in page(as_planner, sky)
    due = timezone.localdate() + timedelta(days=10)
    Lot.objects.create(item_id=sky.pk, quantity=300, arrives_on=due, received=False)
    hold(now, [(sky.pk, 250)], 20, 22)
    text = page(as_planner, sky)
    assert 'class="level if"' in text and 'class="short-if"' in text and "if it arrives" in text
    assert "Only if what is on order arrives: without it 150 short on " in text
    assert '<rect class="short"' not in text, "it is covered, if it arrives"


@pytest.fixture
def worn(db):
    made = Sheet.objects.create(
        kind="sheet", name="Net", rows=22, columns=13, pitch_m=0.124, sized_diameter_m=0.119, uses=3, returnable=True
    )
    on_shelf(made, 4)
    return made


def test_uses_that_are_left(as_planner, worn, now):
    assert "12 uses left in all, none of them promised" in page(as_planner, worn)
    hold(now, [(worn.pk, 4)], 5, 7)
    assert "12 uses left in all; 4 of them promised, so 8 remain after " in page(as_planner, worn)


def test_when_what_is_promised_wears_them_out(as_planner, worn, now):
    for week in (1, 2, 3):
        last = hold(now, [(worn.pk, 4)], 7 * week, 7 * week + 2)
    text = page(as_planner, worn)
    assert f"wears them out about {timezone.localtime(last.starts):%a} {timezone.localtime(last.starts).day} " in text
    assert "No: none is free, " in page(as_planner, worn, first=on(40), last=on(41))


def listed(client, status=200, **query) -> str:
    answer = client.get(STOCK, query)
    assert answer.status_code == status
    return answer.content.decode()


def test_the_list_for_a_span(as_planner, pole, sky, now):
    on_shelf(pole, 12)
    on_shelf(sky, 600)
    reservation_confirm(reservation=hold(now, [(pole.pk, 8)], 10, 12))
    assert "<b>12</b>" in listed(as_planner)
    text = listed(as_planner, first=on(10), last=on(10))
    assert "<b>4</b>" in text and "<b>600</b>" in text and "Show what is free now" in text
    assert f"kind=latex&amp;first={on(10)}&amp;last={on(10)}" in text, "another kind keeps the days"
    text = listed(as_planner, status=422, first=on(10), last=on(9))
    assert "It must end after it begins." in text and f'value="{on(9)}"' in text


def test_only_what_is_short(as_planner, pole, sky, now):
    on_shelf(pole, 12)
    lot = on_shelf(sky, 100)
    assert "Nothing of this is short." in listed(as_planner, short="1")
    hold(now, [(sky.pk, 100)], 10, 12)
    lost(lot, 36)
    text = listed(as_planner, short="1")
    assert "36 short" in text and "Pole, 2 m" not in text and "Pole, 2 m" in listed(as_planner)
