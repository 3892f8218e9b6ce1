import time
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from unittest.mock import patch

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone

from decor.studio import services
from decor.studio.middleware import IDLE_LIMIT, WHOLE_LIMIT
from decor.studio.models import SignIn
from tests.conftest import PASSWORD, signed_in


def sign_in(client: Client, name: str, password: str):
    return client.post("/sign-in/", {"username": name, "password": password})


def test_the_right_password_opens_today(owner):
    client = Client()
    answer = sign_in(client, "olive", PASSWORD)
    assert answer.status_code == 302 and answer["Location"] == "/"
    assert client.get("/").status_code == 200


def test_a_wrong_password_says_so_and_tells_nothing_more(owner):
    wrong = sign_in(Client(), "olive", "wrong").content.decode()
    unknown = sign_in(Client(), "nobody", "wrong").content.decode()
    for page in (wrong, unknown):
        assert "The sign-in name or the password is wrong." in page


def test_five_free_tries_then_the_wait_doubles(owner):
    now, waits = timezone.now(), []
    for _ in range(9):
        assert services.login_try(username="Olive ", now=now) == timedelta(0)
        waits.append(services.login_try(username="olive", now=now).total_seconds() if len(waits) > 3 else 0)
        now += timedelta(seconds=waits[-1])
    assert waits == [0, 0, 0, 0, 1, 2, 4, 8, 16]


def test_a_try_that_was_not_let_through_counts_for_nothing(owner):
    now = timezone.now()
    for _ in range(5):
        services.login_try(username="olive", now=now)
    for _ in range(50):
        assert services.login_try(username="olive", now=now) == timedelta(seconds=1)


@pytest.mark.django_db(transaction=True)
def test_many_tries_at_once_are_no_more_than_one_after_the_other(owner):
    """The password is checked slowly, so counting after it would let all of them through."""
    checked = []

    def slow_check(request, **given):
        checked.append(given)
        time.sleep(0.2)

    def wrong(_: int) -> None:
        try:
            sign_in(Client(), "olive", "wrong")
        finally:
            connection.close()

    with patch("decor.studio.views.authenticate", slow_check), ThreadPoolExecutor(12) as pool:
        list(pool.map(wrong, range(12)))
    assert len(checked) == services.FREE_TRIES


def test_the_right_password_waits_too_but_is_never_locked_out(owner):
    client = Client()
    for _ in range(6):
        sign_in(client, "olive", "wrong")
    page = sign_in(client, "olive", PASSWORD)
    assert page.status_code == 422 and "Too many wrong tries" in page.content.decode()
    now = timezone.now()
    for _ in range(200):
        now += services.login_try(username="olive", now=now)
    assert services.login_try(username="olive", now=now) <= services.LONGEST_WAIT
    assert services.login_try(username="olive", now=now + services.LONGEST_WAIT) == timedelta(0)


def test_next_never_leads_elsewhere(owner):
    client = Client()
    answer = client.post("/sign-in/?next=//evil.example/", {"username": "olive", "password": PASSWORD})
    assert answer["Location"] == "/"
    # a word that is no path would be taken for the name of a view
    answer = Client().post("/sign-in/?next=studio:more", {"username": "olive", "password": PASSWORD})
    assert answer["Location"] == "/"
    answer = Client().post("/sign-in/?next=/more/", {"username": "olive", "password": PASSWORD})
    assert answer["Location"] == "/more/"


@pytest.mark.parametrize("who", ["owner", "crew_user"])
def test_a_sign_in_ends_by_idling_and_by_age(request, who):
    user = request.getfixturevalue(who)
    for field, limit in (("last_seen", IDLE_LIMIT[user.role]), ("started", WHOLE_LIMIT[user.role])):
        client = signed_in(user)
        assert client.get("/").status_code == 200
        SignIn.objects.filter(user=user).update(**{field: timezone.now() - limit - timedelta(minutes=1)})
        assert client.get("/").status_code == 302


def test_somebody_shut_out_is_out_at_once(as_owner, crew_user):
    theirs = signed_in(crew_user)
    assert theirs.get("/").status_code == 200
    as_owner.post(f"/more/people/{crew_user.pk}/", {"name": "Cory", "username": "cory", "role": "crew"})
    assert theirs.get("/").status_code == 302


def test_one_can_end_ones_own_sign_ins_and_nobody_elses(owner, as_owner, as_crew, crew_user):
    other_phone = signed_in(owner)
    row = owner.sign_ins.order_by("-pk").first()
    assert as_crew.post(f"/more/sign-ins/{row.pk}/end/").status_code == 404
    assert as_owner.post(f"/more/sign-ins/{row.pk}/end/").status_code == 302
    assert other_phone.get("/").status_code == 302
    assert as_owner.get("/").status_code == 200


def test_a_new_password_is_long_and_signs_the_other_phones_out(owner):
    here, there = signed_in(owner), signed_in(owner)
    short = here.post("/more/password/", {"old": PASSWORD, "password": "short"})
    assert short.status_code == 422 and "at least 15" in short.content.decode()
    assert here.post("/more/password/", {"old": PASSWORD, "password": "four brown hares run"}).status_code == 302
    assert here.get("/").status_code == 200
    assert there.get("/").status_code == 302


def test_whoever_was_signed_out_comes_back_to_the_page_and_not_to_the_button(owner):
    nobody = Client()
    assert nobody.get("/events/?stage=lost")["Location"] == "/sign-in/?next=/events/%3Fstage%3Dlost"
    pressed = nobody.post("/book/", headers={"referer": "http://testserver/events/?find=hall"})
    assert pressed["Location"] == "/sign-in/?next=/events/%3Ffind%3Dhall"
    assert nobody.post("/book/", headers={"referer": "http://elsewhere.example/x"})["Location"] == "/sign-in/?next=/"
    for broken in ("http://[", "http://[::1", "//"):
        assert nobody.post("/book/", headers={"referer": broken})["Location"] == "/sign-in/?next=/"
    part = nobody.get("/crew/", headers={"hx-request": "true", "referer": "http://testserver/events/"})
    assert part["HX-Redirect"] == "/sign-in/?next=/events/"


def test_the_address_of_a_button_says_that_it_is_no_page(as_owner):
    page = as_owner.get("/book/")
    assert (page.status_code, page["Allow"]) == (405, "POST")
    assert "press the button there" in page.content.decode()


def test_a_device_is_told_in_words(as_owner, owner):
    agent = "Mozilla/5.0 (Linux; Android 15) AppleWebKit/537.36 Chrome/140.0.0.0 Mobile Safari/537.36"
    owner.sign_ins.update(agent=agent)
    page = as_owner.get("/more/sign-ins/").content.decode()
    assert "Chrome on Android" in page and "Mozilla" not in page


def test_signing_out_needs_a_post(as_owner):
    assert as_owner.get("/sign-out/").status_code == 405
    assert as_owner.post("/sign-out/").status_code == 302
    assert as_owner.get("/").status_code == 302


def test_the_owner_keeps_ones_own_rights(as_owner, owner):
    page = as_owner.post(f"/more/people/{owner.pk}/", {"name": "Olive", "username": "olive", "role": "crew"})
    assert page.status_code == 422 and "another owner can" in page.content.decode()
    owner.refresh_from_db()
    assert owner.role == "owner"


def test_a_new_person_is_told_what_they_may_and_a_taken_name_is_said(as_owner):
    page = as_owner.get("/more/people/new/").content.decode()
    assert "Crew: sees their own day sheets, never prices." in page
    given = {"name": "Tess", "username": "tess", "role": "crew", "password": "green apples in a bowl"}
    assert "Tess may sign in as tess." in as_owner.post("/more/people/new/", given, follow=True).content.decode()
    again = as_owner.post("/more/people/new/", given)
    assert again.status_code == 422 and "Somebody has this sign-in name already." in again.content.decode()


def test_the_session_cookie_is_out_of_reach(owner):
    answer = sign_in(Client(), "olive", PASSWORD)
    cookie = answer.cookies["sessionid"]
    assert cookie["httponly"] and cookie["samesite"] == "Lax"


def test_of_two_sign_ins_at_one_moment_neither_is_called_wrong(owner):
    """The second read its clock a moment before the first wrote its row."""
    now = timezone.now()
    assert services.login_try(username="olive", now=now) == timedelta(0)
    assert services.login_try(username="olive", now=now - timedelta(milliseconds=1)) == timedelta(0)
