"""A form that is sent twice counts once."""

import time
from concurrent.futures import ThreadPoolExecutor
from threading import BoundedSemaphore, Semaphore

import pytest
from django.db import connection
from django.test import RequestFactory

from decor.studio import requests
from decor.studio.models import RequestKey, User
from tests.conftest import PASSWORD, signed_in

PERSON = {"name": "Nell Rush", "username": "nell", "role": "crew", "password": PASSWORD}


def test_a_second_tap_gets_the_first_answer(as_owner):
    for _ in range(2):
        answer = as_owner.post("/more/people/new/", {**PERSON, "request_key": "k1"})
        assert answer.status_code == 302
    assert User.objects.filter(username="nell").count() == 1


def test_the_same_key_with_other_words_is_refused(as_owner):
    as_owner.post("/more/people/new/", {**PERSON, "request_key": "k1"})
    answer = as_owner.post("/more/people/new/", {**PERSON, "username": "nell2", "request_key": "k1"})
    assert answer.status_code == 422 and "already sent" in answer.content.decode()
    assert not User.objects.filter(username="nell2").exists()


def test_a_refused_form_leaves_its_key_free(as_owner):
    refused = as_owner.post("/more/people/new/", {**PERSON, "password": "short", "request_key": "k1"})
    assert refused.status_code == 422 and 'value="k1"' in refused.content.decode()
    assert as_owner.post("/more/people/new/", {**PERSON, "request_key": "k1"}).status_code == 302


def test_keys_of_two_people_do_not_meet(as_owner, owner, planner):
    as_owner.post("/more/people/new/", {**PERSON, "request_key": "k1"})
    planner.role = "owner"
    planner.save()
    other = signed_in(planner).post("/more/people/new/", {**PERSON, "username": "nora", "request_key": "k1"})
    assert other.status_code == 302
    assert RequestKey.objects.filter(key="k1").count() == 2


@pytest.mark.django_db(transaction=True)
def test_ten_taps_at_once_make_one(owner):
    def tap(_: int) -> int:
        try:
            return signed_in(owner).post("/more/people/new/", {**PERSON, "request_key": "k1"}).status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(10) as pool:
        answers = list(pool.map(tap, range(10)))
    assert set(answers) == {302}
    assert User.objects.filter(username="nell").count() == 1


def test_few_wait_long_for_a_first_tap_that_does_not_end(as_owner, owner, monkeypatch):
    """The others are told to look again soon: a server with all its threads waiting would serve nobody."""
    monkeypatch.setattr(requests, "IN_FLIGHT_WAIT_S", 1.5)
    monkeypatch.setattr(requests, "SHORT_WAIT_S", 0.2)
    body = {**PERSON, "request_key": "k1"}
    request = RequestFactory().post("/more/people/new/", body)
    RequestKey.objects.create(scope=f"user:{owner.pk}", key="k1", body_hash=requests._body_hash(request))
    for seats, least, most in ((2, 1.4, 3.0), (0, 0.15, 1.0)):
        monkeypatch.setattr(requests, "LONG_WAITERS", BoundedSemaphore(seats) if seats else Semaphore(0))
        started = time.monotonic()
        answer = as_owner.post("/more/people/new/", body)
        assert answer.status_code == 409 and "Still working on it" in answer.content.decode()
        assert least < time.monotonic() - started < most


def test_what_is_no_key_of_ours_is_no_key(as_owner):
    """One database could not even look for it."""
    for number, key in enumerate(["a\x00b", "a b", "²"]):
        name = f"nell{number}"
        assert as_owner.post("/more/people/new/", {**PERSON, "username": name, "request_key": key}).status_code == 302
    assert not RequestKey.objects.exists()
