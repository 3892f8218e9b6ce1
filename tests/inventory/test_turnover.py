"""How much of an item goes, and how many of a hundred burst."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from scipy.stats import beta

from inventory.models import Movement
from inventory.picking import pick
from inventory.returning import Ways, settle_as_planned, take_back
from inventory.services import reservation_confirm, reservation_hold
from inventory.turnover import ENOUGH, PRIOR_BALLOONS, WINDOW, burst_share, known_burst, turnover
from tests.inventory.conftest import on_shelf


def event(item, quantity: int, **ways: int) -> None:
    """Promised, picked and counted back; without ways, settled as planned."""
    now = timezone.now()
    held = reservation_hold(
        lines=[(item.pk, quantity)], starts=now, ends=now + timedelta(hours=5), label="Fair", expires=now + timedelta(1)
    )
    reservation_confirm(reservation=held)
    if not ways:
        settle_as_planned(reservation=held)
        return
    pick(reservation=held, item=item, quantity=quantity)
    take_back(reservation=held, item=item, ways=Ways(**ways))


def test_the_prior_says_the_studios_share_and_gives_way():
    """A beta distribution of 200 balloons at s / (1 + s); its mean after `used` and `burst` by scipy.stats.beta."""
    assert burst_share(used=0, burst=0, spares_share=0.04) == pytest.approx(0.04 / 1.04)
    prior = 0.04 / 1.04
    for used, burst in ((10, 0), (1840, 37), (100, 60)):
        posterior = beta(PRIOR_BALLOONS * prior + burst, PRIOR_BALLOONS * (1 - prior) + used)
        assert burst_share(used=used, burst=burst, spares_share=0.04) == pytest.approx(posterior.mean())
    assert burst_share(used=10**6, burst=2 * 10**4, spares_share=0.04) == pytest.approx(2 / 102, rel=1e-3)


@pytest.mark.parametrize(("used", "burst", "share"), [(-1, 0, 0.04), (0, -1, 0.04), (0, 0, 1.5)])
def test_what_cannot_be_is_refused(used, burst, share):
    with pytest.raises(ValueError):
        burst_share(used=used, burst=burst, spares_share=share)


def test_told_from_what_was_counted_back_by_hand(sky):
    on_shelf(sky, 2000)
    event(sky, 300, used=280, burst=6, back=14)
    event(sky, 400)
    found = turnover([sky.pk], now=timezone.now())[sky.pk]
    assert (found.gone, found.used, found.burst) == (686, 280, 6)
    assert known_burst(now=timezone.now(), spares_share=0.04) == {sky.pk: 0.03}  # (7.69 + 6) / 486 = 0.0282


def test_too_few_are_not_believed_and_an_event_that_nobody_counted_says_nothing(sky):
    on_shelf(sky, 2000)
    event(sky, 400)
    event(sky, ENOUGH - 1, used=ENOUGH - 2, burst=1)
    assert known_burst(now=timezone.now(), spares_share=0.04) == {}
    event(sky, 1, burst=1)
    assert list(known_burst(now=timezone.now(), spares_share=0.04)) == [sky.pk]


def test_what_is_older_than_two_years_no_longer_counts(sky):
    on_shelf(sky, 2000)
    event(sky, 300, used=280, burst=20)
    later = timezone.now() + WINDOW + timedelta(days=1)
    assert known_burst(now=later, spares_share=0.04) == {} == turnover([sky.pk], now=later)


def test_months_begin_with_the_first_line_of_the_ledger(sky):
    on_shelf(sky, 2000)
    event(sky, 300, used=280, burst=20)
    assert turnover([sky.pk], now=timezone.now())[sky.pk].per_month == 300
    later = timezone.now() + timedelta(days=304.375)
    assert turnover([sky.pk], now=later)[sky.pk].per_month == pytest.approx(30, rel=0.01)


def test_nothing_that_moved_nothing_to_tell(sky, pole):
    on_shelf(sky, 10)
    assert turnover([sky.pk, pole.pk], now=timezone.now()) == {}
    assert Movement.objects.count() == 1


def test_one_query_for_any_number(sky, red):
    for item in (sky, red):
        on_shelf(item, 2000)
        event(item, 300, used=290, burst=10)
    for ask in (
        lambda: turnover([sky.pk, red.pk], now=timezone.now()),
        lambda: known_burst(now=timezone.now(), spares_share=0.04),
    ):
        with CaptureQueriesContext(connection) as queries:
            assert len(ask()) == 2
        assert len(queries) == 1
