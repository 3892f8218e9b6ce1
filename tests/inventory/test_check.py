"""A list checked before anybody says yes: nothing is saved, everything is asked by address."""

import re
import time
from datetime import timedelta
from decimal import Decimal
from html import unescape
from urllib.parse import parse_qsl, urlsplit

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.check_views import check_address
from inventory.models import Hardware, Latex, Lot, Movement, Order, Reservation
from inventory.ordering import order_send
from tests.inventory.conftest import on_shelf
from tests.inventory.test_gaps import hold, latex

CHECK = reverse("inventory:check")


def ahead(days: int) -> str:
    return f"{timezone.localdate() + timedelta(days=days):%Y-%m-%d}"


def ask(client, *rows, status=200, **more):
    query = {"item": [name for name, _ in rows], "n": [str(n) for _, n in rows], "first": ahead(20), "last": ahead(21)}
    answer = client.get(CHECK, query | more)
    assert answer.status_code == status
    return answer


def text(answer) -> str:
    return answer.content.decode()


def test_an_empty_page_says_what_it_is_for(as_planner, sky):
    page = text(as_planner.get(CHECK))
    assert "what would close the gap?" in page and '<option value="5 in sky">' in page
    assert page.count('name="item"') == 3 and "Check it" in page


def test_all_of_it_is_free(as_planner, sky, pole):
    on_shelf(sky, 600)
    on_shelf(pole, 6)
    page = text(ask(as_planner, ("5 in sky", 525), ("pole, 2 M", 2)))
    assert "All of it is free." in page and "525 asked, 600 free" in page and "2 asked, 6 free" in page
    assert 'value="Pole, 2 m"' in page, "as it is called"


def test_by_its_number_and_twice(as_planner, sky):
    on_shelf(sky, 600)
    assert "525 asked, 600 free" in text(ask(as_planner, (sky.pk, 500), ("5 in sky", 25)))


def test_short_with_what_would_close_it(as_planner, sky):
    on_shelf(sky, 489)
    on_shelf(latex("pale blue", "#86b9dc"), 300)
    hold(timezone.now(), [(sky.pk, 200)], 30, 32)
    page = text(ask(as_planner, ("5 in sky", 525)))
    assert "1 thing is short." in page and "236 short" in page and "289 free" in page
    assert "3 packs of 100, €18.60, from Estuary Latex" in page and "last day to order" in page
    assert "5 in plain round pale blue: 236 needed, 300 free" in page and "CIEDE2000" in page
    assert 'fill="#86b9dc"' in page and "Harbour fair has 200" in page
    assert "Order 3 packs of 5 in sky" in page
    assert page.count('class="btn"') == 1


def test_an_order_leads_back_to_the_same_list(as_planner, sky):
    answer = ask(as_planner, ("5 in sky", 525))
    href = unescape(re.search(r'<a class="btn" href="([^"]+)"', text(answer)).group(1))
    assert urlsplit(href).path == reverse("inventory:item-order", args=[sky.pk])
    here = answer.wsgi_request.get_full_path()
    assert dict(parse_qsl(urlsplit(href).query)) == {"packs": "6", "to": here}
    page = text(as_planner.post(href, {"packs": "6"}, follow=True))
    # Written, it counts for nothing; the list says where it is, and leads on to sending it.
    order = Order.objects.get()
    assert f"6 packs of 100, 5 in sky, are in draft order {order.number}. It counts once that is sent." in page
    assert "1 thing is short." in page and f"6 packs of 100 in draft order {order.number}" in page
    assert f'href="{reverse("inventory:order-send", args=[order.pk])}">Send order {order.number}</a>' in page
    assert "Order it" not in page
    order_send(order=order, due_on=timezone.localdate() + timedelta(days=6))
    page = text(as_planner.get(here))
    assert "All of it is free, if what is on order arrives." in page


def test_what_is_expected_can_still_be_noted(as_planner, sky):
    answer = ask(as_planner, ("5 in sky", 525))
    href = unescape(re.search(r'<a class="btn" href="([^"]+)"', text(answer)).group(1))
    noted = unescape(re.search(r'href="([^"]+)">Ordered some other way', text(as_planner.get(href))).group(1))
    given = {"quantity": "600", "here": "no", "arrives_on": ahead(6)}
    assert "All of it is free, if what is on order arrives." in text(as_planner.post(noted, given, follow=True))
    assert not Order.objects.exists()


def test_words_in_another_order_are_the_same_thing_where_only_one_is_called_so(as_planner, sky):
    on_shelf(sky, 600)
    assert "7 asked, 600 free" in text(ask(as_planner, ("Sky, 5 IN", 7)))
    Hardware.objects.create(
        kind="hardware", name="Sky in 5", returnable=True, pack_size=1, pack_price=Decimal(1), lead_days=1
    )
    page = text(ask(as_planner, ("sky, 5 in", 7), status=422))
    assert "There is no “sky, 5 in” in stock, but 5 in sky; Sky in 5." in page


def test_what_is_wrong_is_marked_where_it_is_wrong(as_planner, sky):
    page = text(ask(as_planner, ("5 in sky", "three"), ("mud", 3), status=422))
    wrong = re.findall(r'<input id="([^"]+)"[^>]+aria-invalid="true"', page)
    assert wrong == ["n-0", "item-1"]
    assert 'href="#n-0"' in page and 'href="#item-1"' in page and "2 things to put right" in page
    assert "One thing to put right" in text(ask(as_planner, ("mud", 3), status=422))


def test_check_with_something_else_instead(as_planner, sky):
    near = latex("pale blue", "#86b9dc")
    on_shelf(sky, 100)
    on_shelf(near, 300)
    page = text(ask(as_planner, ("5 in sky", 236)))
    href = unescape(re.search(r'href="([^"]+)">Check with it', page).group(1))
    page = text(as_planner.get(href))
    assert "All of it is free." in page and "100 asked, 100 free" in page and "136 asked, 300 free" in page


def test_too_late_to_order_leads_to_what_is_free_instead(as_planner, sky):
    on_shelf(latex("pale blue", "#86b9dc"), 300)
    page = text(ask(as_planner, ("5 in sky", 100), first=ahead(1), last=ahead(1)))
    assert "Too late" in page and "Check it with 5 in plain round pale blue" in page


def test_from_an_event_all_free_leads_back_to_hold_it(as_planner, sky):
    on_shelf(sky, 600)
    page = text(ask(as_planner, ("5 in sky", 100), to="/events/7/stock/", **{"for": "7 Harbour fair"}))
    assert '<a class="btn" href="/events/7/stock/">All of it is free: go and hold it</a>' in page
    assert "7 Harbour fair" in page
    assert "go and hold it" not in text(ask(as_planner, ("5 in sky", 100), to="https://elsewhere.example/"))


@pytest.mark.parametrize(
    "rows, more, words",
    [
        ([("5 in sk<y", 3)], {}, "There is no “5 in sk&lt;y” in stock, but 5 in sky."),
        ([("SKY", 3)], {}, "There is no “SKY” in stock, but 5 in sky."),
        ([("", 3)], {}, "Say what."),
        ([("5 in sky", "three")], {}, "Say how many, in whole figures."),
        ([("5 in sky", "-3")], {}, "Say how many, in whole figures."),
        ([("5 in sky", "")], {}, "Say how many, in whole figures."),
        ([("5 in sky", "99999999999")], {}, "That is more than anybody has."),
        ([("99999999999999999999", "1")], {}, "There is no “99999999999999999999” in stock."),
        ([("5 in sky", 3)], {"first": "2001-02-03"}, "That day is past."),
        ([("5 in sky", 3)], {"last": "2001-02-03"}, "It must end after it begins."),
        ([("5 in sky", 3)], {"last": "2999-02-03"}, "That is too far off."),
        ([("5 in sky", 3)], {"first": ""}, "From"),
        ([("5 in sky", 3)], {"first_at": "noonish"}, "at: "),
    ],
)
def test_slips_are_told_and_nothing_typed_is_lost(as_planner, sky, rows, more, words):
    page = text(ask(as_planner, ("5 in sky", 77), *rows, status=422, **more))
    assert words in page and 'value="77"' in page
    assert "asked," not in page


def test_a_list_without_things(as_planner, sky):
    assert "Say what, and how many." in text(ask(as_planner))


def test_more_lines_keep_what_is_typed_and_find_no_fault(as_planner, sky):
    page = text(ask(as_planner, ("5 in sky", 77), ("nonsense", ""), more="1"))
    assert page.count('name="item"') == 5 and 'value="nonsense"' in page and "There is no" not in page


def test_moments_count_to_the_minute(as_planner, pole):
    on_shelf(pole, 2)
    starts = timezone.now().replace(hour=9, minute=0) + timedelta(days=20)
    hold(starts - timedelta(days=20), [(pole.pk, 2)], 20, 21)
    day = f"{timezone.localtime(starts):%Y-%m-%d}"
    before = {"first": day, "first_at": "00:00", "last": day, "last_at": f"{timezone.localtime(starts):%H:%M}"}
    assert "2 asked, 2 free" in text(ask(as_planner, ("Pole, 2 m", 2), **before))
    late = f"{timezone.localtime(starts + timedelta(minutes=1)):%H:%M}"
    assert "2 asked, 0 free" in text(ask(as_planner, ("Pole, 2 m", 2), **before | {"last_at": late}))


def test_an_address_made_for_a_list_asks_for_that_list(as_planner, sky):
    on_shelf(sky, 600)
    starts = timezone.now() + timedelta(days=3)
    address = check_address({sky.pk: 525}, starts, starts + timedelta(days=1), back="/events/1/", called="1 Fair")
    page = text(as_planner.get(address))
    assert "525 asked, 600 free" in page and 'href="/events/1/"' in page and "1 Fair" in page


def test_nothing_is_saved(as_planner, sky):
    on_shelf(sky, 100)
    before = (Lot.objects.count(), Movement.objects.count(), Reservation.objects.count())
    ask(as_planner, ("5 in sky", 525))
    assert before == (Lot.objects.count(), Movement.objects.count(), Reservation.objects.count())
    assert as_planner.post(CHECK).status_code == 405


def test_not_for_crew_nor_for_nobody(as_crew, as_nobody):
    assert as_crew.get(CHECK).status_code == 403
    assert as_nobody.get(CHECK).status_code == 302


def test_forty_things_are_answered_at_once(as_planner, studio, django_assert_max_num_queries):
    """Figures of a year's promises; the milliseconds are told, queries fail."""
    made = [
        Latex(
            kind="latex", name=f"Colour {n}", nominal_in=Decimal(5 + 6 * (n % 3)), colour=f"c{n}", pack_size=100,
            rgb=f"#{n * 3:02x}{255 - n * 3:02x}80",
        )
        for n in range(80)
    ]  # fmt: skip
    for item in made:
        item.save()
        on_shelf(item, 3000)
    now = timezone.now()
    for n in range(60):
        hold(now, [(item.pk, 40) for item in made[n % 2 :: 2]], 3 + 5 * n, 5 + 5 * n, f"Event {n}")
    rows = [(item.name, 2900) for item in made[:40]]
    ask(as_planner, *rows)
    with django_assert_max_num_queries(36):
        begun = time.perf_counter()
        page = text(ask(as_planner, *rows))
        took = time.perf_counter() - begun
    print(f"40 things, all short: {took * 1000:.0f} ms")
    assert page.count(" short</span>") == 40
