from datetime import timedelta

import pytest
from django.core import serializers
from django.utils import timezone

from jobs.proofs.models import ProofVisits
from jobs.proofs.visits import ASKED_WINDOW, BAD_WINDOW, MOST_ASKED, MOST_BAD, visit_bad, visit_count

pytestmark = pytest.mark.django_db
IP = "192.0.2.7"
NONE = timedelta(0)


def test_thirty_in_a_minute_pass_and_the_next_waits():
    now = timezone.now()
    assert all(visit_count(ip=IP, now=now) == NONE for _ in range(MOST_ASKED))
    assert visit_count(ip=IP, now=now + timedelta(seconds=20)) == timedelta(seconds=40)
    assert visit_count(ip="192.0.2.8", now=now) == NONE
    assert visit_count(ip=IP, now=now + ASKED_WINDOW) == NONE
    assert (30, timedelta(minutes=1)) == (MOST_ASKED, ASKED_WINDOW)


def test_ten_bad_tokens_shut_the_address_out_for_ten_minutes():
    now = timezone.now()
    for _ in range(MOST_BAD):
        assert visit_count(ip=IP, now=now) == NONE
        visit_bad(ip=IP, now=now)
    assert visit_count(ip=IP, now=now + timedelta(minutes=4)) == timedelta(minutes=6)
    assert visit_count(ip=IP, now=now + BAD_WINDOW) == NONE
    assert (10, timedelta(minutes=10)) == (MOST_BAD, BAD_WINDOW)


def test_an_address_is_not_kept_in_the_clear_nor_for_long():
    now = timezone.now()
    visit_count(ip=IP, now=now)
    assert IP not in serializers.serialize("json", ProofVisits.objects.all())
    visit_count(ip="192.0.2.9", now=now + timedelta(days=1, seconds=1))
    assert ProofVisits.objects.count() == 1


def test_a_visitor_without_an_address_is_counted_too():
    now = timezone.now()
    for _ in range(MOST_ASKED):
        visit_count(ip=None, now=now)
    assert visit_count(ip=None, now=now) > NONE


def test_a_network_with_many_addresses_is_counted_as_one():
    now = timezone.now()
    for n in range(MOST_ASKED):
        visit_count(ip=f"2001:db8:1:2::{n:x}", now=now)
    assert visit_count(ip="2001:db8:1:2:ffff::1", now=now) > NONE
    assert visit_count(ip="2001:db8:1:3::1", now=now) == NONE
    visit_count(ip="::ffff:192.0.2.7", now=now), visit_count(ip=IP, now=now)
    assert sorted(ProofVisits.objects.values_list("asked", flat=True)) == [1, 2, MOST_ASKED + 1]
