"""The store's work by plain forms: what to pick, what came back, what was counted, an item's ledger."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import counting, picking
from inventory.models import Bin, Count, Movement, Reservation
from inventory.shown import short_day
from jobs.events.models import Event
from tests.conftest import signed_in
from tests.inventory.store_work import here, net, out, promise, stocked
from tests.inventory.test_pick_commands import puts_on_shift

pytestmark = pytest.mark.django_db


@pytest.fixture
def fair(sky, pole):
    return promise({stocked(sky, 300): 120, stocked(pole, 8): 4})


def words(answer) -> str:
    text = re.sub(r"<script[^>]*>.*?</script>", "", answer.content.decode(), flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def at(name: str, *args: object) -> str:
    return reverse(f"inventory:{name}", args=args)


def tick(client, reservation, **fields):
    return client.post(at("pick-tick", reservation.pk), fields, follow=True)


def test_the_store_work_leads_to_the_list(as_planner, fair):
    assert at("store-work") in as_planner.get("/stock/").content.decode()
    page = as_planner.get(at("store-work"))
    assert "0042 Harbour fair" in words(page) and at("pick", fair.pk) in page.content.decode()
    assert "Nothing to pick" not in words(page)


def test_nothing_to_do_is_said(as_planner):
    assert "Nothing to pick, and nothing is out." in words(as_planner.get(at("store-work")))


def test_a_row_is_ticked_and_taken_back_by_forms(as_planner, planner, fair, sky):
    assert "5 in sky: 120 of 120 picked." in words(tick(as_planner, fair, all=sky.pk))
    assert (here(sky), out(fair, sky)) == (180, 120)
    assert Movement.objects.get(kind="picked").by == planner
    tick(as_planner, fair, none=sky.pk)
    assert (here(sky), out(fair, sky)) == (300, 0)


def test_a_form_that_comes_twice_counts_once(as_planner, fair, sky):
    page = as_planner.get(at("pick", fair.pk)).content.decode()
    key = re.search(r'name="request_key" value="([^"]+)"', page)[1]
    for _ in range(2):
        tick(as_planner, fair, fewer=sky.pk, total=50, request_key=key)
    assert out(fair, sky) == 50


def test_fewer_with_no_more_there_shows_what_it_means(as_planner, fair, sky):
    promise({sky: 100}, starts_in=5, label="0043 Regatta")
    page = words(tick(as_planner, fair, fewer=sky.pk, total="90", none_left="yes"))
    assert "90 of 120 picked. No more is on the shelf" in page
    assert "By the ledger 210 more were here, which are written off now." in page
    assert re.search(r"Short: 30 for 0042 Harbour fair \(\d+ \w+\), 100 for 0043 Regatta", page)
    assert here(sky) == 0


@pytest.mark.parametrize(("typed", "said"), [("", "in figures"), ("many", "in figures"), ("121", "needs only 120")])
def test_a_bad_number_is_told_beside_its_row(as_planner, fair, sky, typed, said):
    answer = tick(as_planner, fair, fewer=sky.pk, total=typed)
    assert answer.status_code == 422 and said in words(answer)
    assert f'name="total" inputmode="numeric" autocomplete="off" value="{typed}"' in answer.content.decode()
    assert out(fair, sky) == 0


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("b2", "To what you look for"),
        ("B2 ", "To what you look for"),
        ("C9", "Nothing of this list lies in C9."),
        ("xyz", "Nothing in the store has the code “xyz”."),
        ("/b/{b2}/", "To what you look for"),
        ("https://store.example/i/{sky}/", "To what you look for"),
        ("no. {sky}", "To what you look for"),
        ("{red}", "This list needs nothing of 11 in red."),
    ],
)
def test_a_code_leads_to_its_rows(as_planner, fair, sky, red, code, said):
    numbers = {name: Bin.objects.create(name=name).pk for name in ("B2", "C9")}
    code = code.format(b2=numbers["B2"], sky=sky.pk, red=red.pk)
    answer = as_planner.get(at("pick", fair.pk), {"find": code})
    assert answer.status_code == 200 and said in words(answer)
    assert (f'href="#item-{sky.pk}"' in answer.content.decode()) == (said == "To what you look for")


@pytest.fixture
def early(pole):
    """Four poles for an event in a month, two of which another needs before."""
    later = promise({stocked(pole, 4): 4}, starts_in=30)
    return later, promise({pole: 2}, starts_in=10, label="0043 Regatta")


def test_whoever_picks_weeks_before_is_asked_first(as_planner, early, pole):
    later, first = early
    says = f"Taken now, missing elsewhere: 2 for 0043 Regatta ({short_day(first.starts)})"
    page = as_planner.get(at("pick", later.pk))
    assert says in words(page) and says not in words(as_planner.get(at("pick", first.pk)))
    asked = tick(as_planner, later, all=pole.pk)
    assert asked.status_code == 422 and "Take them now all the same?" in words(asked) and here(pole) == 4
    tick(as_planner, later, all=pole.pk, anyway="yes")
    assert out(later, pole) == 4
    assert "Short: 2 for 0043 Regatta" in words(as_planner.get(at("pick", later.pk)))


def test_as_many_as_nobody_needs_before_are_taken_without_a_word(as_planner, early, pole):
    later, _ = early
    asked = tick(as_planner, later, fewer=pole.pk, total="3", none_left="yes")
    assert asked.status_code == 422
    text = asked.content.decode()
    assert '<input type="hidden" name="total" value="3">' in text and 'name="none_left" value="yes"' in text
    assert "2 of 4 picked." in words(tick(as_planner, later, fewer=pole.pk, total="2"))
    assert out(later, pole) == 2
    assert tick(as_planner, later, all=pole.pk).status_code == 422
    assert "Taken now" in words(as_planner.get(at("pick", later.pk)))
    tick(as_planner, later, none=pole.pk)
    assert out(later, pole) == 0


def test_crew_are_not_told_whose_they_are(crew_user, early, pole):
    later, first = early
    puts_on_shift(crew_user, later)
    text = words(signed_in(crew_user).get(at("pick", later.pk)))
    assert f"missing elsewhere: 2 for another event ({short_day(first.starts)})" in text and "Regatta" not in text


def test_an_open_page_learns_of_it(as_planner, early, pole):
    later, _ = early
    (row,) = as_planner.get(at("pick-now", later.pk)).json()["rows"]
    assert row["safe"] == 2 and row["early"].startswith("Taken now, missing elsewhere: 2 for 0043 Regatta")


def test_a_hold_is_read_but_not_picked(as_planner, sky):
    fair = promise({stocked(sky, 300): 120}, confirm=False)
    page = as_planner.get(at("pick", fair.pk))
    assert "only on hold" in words(page) and 'name="all"' not in page.content.decode()
    assert tick(as_planner, fair, all=sky.pk).status_code == 422
    assert out(fair, sky) == 0


def test_crew_open_their_own_lists_only_and_see_no_price(crew_user, other_crew_user, fair, sky):
    puts_on_shift(crew_user, fair)
    mine, other = signed_in(crew_user), signed_in(other_crew_user)
    pages = [at("pick", fair.pk), at("pick-now", fair.pk), at("return", fair.pk), at("count-bin", sky.pk)]
    assert [mine.get(path).status_code for path in pages] == [200] * 4
    assert [other.get(path).status_code for path in pages] == [404] * 4
    assert [client.get(at("settle", fair.pk)).status_code for client in (mine, other)] == [403, 403]
    assert other.post(at("pick-tick", fair.pk), {"all": sky.pk}).status_code == 404
    assert other.post(at("return-tick", fair.pk), {"item": sky.pk}).status_code == 404
    assert other.post(at("count-tick", sky.pk), {"found": 3}).status_code == 404
    assert not Movement.objects.exclude(kind="received").exists()
    assert "Harbour fair" in words(mine.get(at("store-work")))
    assert "Harbour fair" not in words(other.get(at("store-work")))
    assert mine.post(at("pick-tick", fair.pk), {"all": sky.pk}).status_code == 302
    for path in [*pages, at("store-work"), at("count")]:
        assert not re.search(r"€|EUR|0\.06|6\.20", mine.get(path).content.decode())


def test_what_came_back_item_by_item(as_planner, fair, sky, pole):
    for item in (sky, pole):
        tick(as_planner, fair, all=item.pk)
    page = words(as_planner.get(at("return", fair.pk)))
    assert "All 120 used" in page and "All 4 back" in page
    answer = as_planner.post(at("return-tick", fair.pk), {"item": sky.pk, "back": "30", "burst": "5"}, follow=True)
    assert "5 in sky: 30 back, 85 used, 5 burst." in words(answer)
    answer = as_planner.post(at("return-tick", fair.pk), {"all": "1"}, follow=True)
    assert "All of it is counted back." in words(answer)
    assert (here(sky), here(pole)) == (210, 8)
    answer = as_planner.post(at("return-tick", fair.pk), {"undo": sky.pk}, follow=True)
    assert "say again what came back" in words(answer) and out(fair, sky) == 120
    assert Reservation.objects.get().state == "confirmed"


@pytest.mark.parametrize(
    ("fields", "said"),
    [({"burst": "121"}, "That makes 121, and only 120 are out"), ({"lost": "few"}, "Lost: say in figures")],
)
def test_bad_numbers_of_what_came_back(as_planner, fair, sky, fields, said):
    tick(as_planner, fair, all=sky.pk)
    answer = as_planner.post(at("return-tick", fair.pk), {"item": sky.pk} | fields)
    assert answer.status_code == 422 and said in words(answer) and out(fair, sky) == 120
    assert f'value="{next(iter(fields.values()))}"' in answer.content.decode(), "what was typed is lost"


@pytest.mark.parametrize(("name", "left"), [("taken", 180), ("untaken", 300)])
def test_what_nobody_ticked_is_asked(as_planner, sky, name, left):
    fair = promise({stocked(sky, 300): 120}, starts_in=-3)
    assert "Nobody ticked it as picked" in words(as_planner.get(at("return", fair.pk)))
    as_planner.post(at("return-tick", fair.pk), {name: sky.pk})
    assert here(sky) == left and Reservation.objects.get().state == "settled"


def test_all_as_planned_is_shown_before_it_is_done(as_planner, planner, sky):
    fair = promise({stocked(sky, 300): 120}, starts_in=-3)
    page = as_planner.get(at("store-work"))
    assert at("settle", fair.pk) in page.content.decode()
    assert "120" in words(as_planner.get(at("settle", fair.pk))) and here(sky) == 300
    answer = as_planner.post(at("settle", fair.pk), follow=True)
    assert "is counted back" in words(answer) and here(sky) == 180
    assert {line.by for line in fair.movements.all()} == {planner}
    assert as_planner.post(at("settle", fair.pk)).status_code == 409


def test_nothing_is_settled_before_it_begins(as_planner, fair, sky):
    assert as_planner.post(at("settle", fair.pk)).status_code == 409
    assert here(sky) == 300


def test_sheets_at_their_last_use_are_said(as_planner):
    sheet = stocked(net(), 6)
    sheet.lots.update(uses_left=1)
    fair = promise({sheet: 6})
    tick(as_planner, fair, all=sheet.pk)
    assert "6 are at the last use and go after this" in words(as_planner.get(at("return", fair.pk)))


def test_a_count_as_the_ledger_says_is_one_step(as_planner, planner, sky):
    stocked(sky, 300)
    page = as_planner.get(at("count-bin", sky.pk))
    told = re.sub(r'<div class="explain" hidden>.*?</div>', "", page.content.decode(), flags=re.DOTALL)
    assert 'class="explain" hidden' in page.content.decode() and "300" not in re.sub(r"<script.*?</script>", "", told)
    answer = as_planner.post(at("count-tick", sky.pk), {"found": "300"}, follow=True)
    assert "300, as the ledger says" in words(answer)
    assert Count.objects.get().by == planner


def test_a_difference_is_explained_and_confirmed(as_planner, fair, sky):
    picking.pick(reservation=fair, item=sky, quantity=12)
    answer = as_planner.post(at("count-tick", sky.pk), {"found": "280"})
    assert "280 counted, the ledger says 288: 8 fewer." in words(answer)
    assert "Never counted before. What the ledger knows of: 300 came in, 12 picked for" in words(answer)
    assert here(sky) == 288
    sure = {"found": "280", "said": "288", "sure": "yes", "why": "torn bag"}
    answer = as_planner.post(at("count-tick", sky.pk), sure, follow=True)
    assert "8 fewer" in words(answer) and here(sky) == 280
    assert Movement.objects.get(kind="counted").why == "torn bag"


def test_a_ledger_that_moved_under_the_check_is_shown_anew(as_planner, fair, sky):
    sure = {"found": "280", "said": "300", "sure": "yes"}
    picking.pick(reservation=fair, item=sky, quantity=12)
    assert "the ledger says 288" in words(as_planner.post(at("count-tick", sky.pk), sure))
    assert here(sky) == 288


def test_promises_that_a_count_breaks_are_named_first(as_planner, fair, sky):
    sure = {"found": "100", "said": "300", "sure": "yes"}
    answer = as_planner.post(at("count-tick", sky.pk), sure)
    assert answer.status_code == 422 and "would leave a promise short" in words(answer)
    assert "0042 Harbour fair" in words(answer) and here(sky) == 300
    assert as_planner.post(at("count-tick", sky.pk), sure | {"even_if_short": "yes"}).status_code == 302
    assert here(sky) == 100


@pytest.mark.parametrize("typed", ["", "some", "-3", "1.5", "²"])
def test_a_count_that_is_no_number_is_told(as_planner, sky, typed):
    answer = as_planner.post(at("count-tick", sky.pk), {"found": typed})
    assert answer.status_code == 422 and "Say in figures how many lie there" in words(answer)
    assert not Count.objects.exists()


def test_the_bins_are_walked(as_planner, sky, pole):
    assert at("count-bin", sky.pk) in as_planner.get(at("count")).content.decode()
    assert as_planner.get(at("count"), {"find": "b2"})["Location"] == at("count-bin", sky.pk)
    assert as_planner.get(at("count"), {"find": "Z1"}).status_code == 422
    assert "On to what has no place" in words(as_planner.get(at("count-bin", sky.pk)))


def test_the_ledger_tells_each_line_newest_first(as_planner, planner, fair, sky):
    picking.pick(reservation=fair, item=sky, quantity=120, by=planner)
    counting.count(item=sky, found=170, by=planner, why="torn bag")
    page = words(as_planner.get(at("ledger", sky.pk)))
    assert "170 here" in page and "and 120 out with events" in page
    order = [page.index(part) for part in ("10 fewer counted", "120 picked, 0042 Harbour fair", "300 came in")]
    assert order == sorted(order)
    for part in ("−10 170 left", "−120 180 left", "+300 300 left", "Pat Reed", "torn bag"):
        assert part in page
    assert at("ledger", sky.pk) in as_planner.get(at("item", sky.pk)).content.decode()


def test_a_long_ledger_has_pages(as_planner, sky):
    lot = stocked(sky, 300).lots.get()
    Movement.objects.bulk_create(Movement(lot=lot, item=sky, kind="counted", store=-1) for _ in range(60))
    first, second = (words(as_planner.get(at("ledger", sky.pk), {"page": n})) for n in (1, 2))
    assert "Page 1 of 2" in first and "−1 240 left" in first and "−1 299 left" not in first
    assert "−1 299 left" in second and "+300 300 left" in second


def test_a_mistake_is_mended_by_another_line(as_planner, planner, sky):
    stocked(sky, 300)
    given = {"way": "fewer", "quantity": "20", "why": "written twice"}
    assert "Corrected by a line of its own." in words(as_planner.post(at("ledger-correct", sky.pk), given, follow=True))
    line = Movement.objects.get(kind="corrected")
    assert (line.store, line.by, line.why, here(sky)) == (-20, planner, "written twice", 280)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"quantity": "0"}, "Write 1 or more, without a sign"),
        ({"quantity": "-20"}, "Write 1 or more, without a sign"),
        ({"quantity": "999"}, "So many are not in the store."),
        ({"why": ""}, "What was wrong"),
        ({"way": ""}, "What the ledger lacks"),
    ],
)
def test_a_correction_that_is_none(as_planner, sky, changes, said):
    stocked(sky, 300)
    answer = as_planner.post(at("ledger-correct", sky.pk), {"way": "fewer", "quantity": "20", "why": "x"} | changes)
    assert answer.status_code == 422 and said in words(answer) and here(sky) == 300


def test_a_correction_that_breaks_a_promise_asks_first(as_planner, fair, sky):
    given = {"way": "fewer", "quantity": "200", "why": "sold"}
    answer = as_planner.post(at("ledger-correct", sky.pk), given)
    assert answer.status_code == 422 and "0042 Harbour fair" in words(answer) and here(sky) == 300
    as_planner.post(at("ledger-correct", sky.pk), given | {"even_if_short": "yes"})
    assert here(sky) == 100


def test_what_others_picked_is_told_to_an_open_page(as_planner, fair, sky):
    picking.pick(reservation=fair, item=sky, quantity=30, at=timezone.now())
    rows = {row["item"]: row for row in as_planner.get(at("pick-now", fair.pk)).json()["rows"]}
    assert (rows[sky.pk]["picked"], rows[sky.pk]["asked"], rows[sky.pk]["here"]) == (30, 120, 270)


def test_today_and_the_day_sheet_lead_to_the_list(crew_user, as_planner, fair, sky):
    assert "In the store" not in words(as_planner.get("/")), "no event is in the book yet"
    puts_on_shift(crew_user, fair)
    page = as_planner.get("/")
    assert "1 pick list for today and tomorrow" in words(page) and at("store-work") in page.content.decode()
    crew = signed_in(crew_user)
    assert at("store-work") in crew.get("/").content.decode()
    sheet = crew.get(reverse("jobs:day-sheet", args=[Event.objects.get().pk])).content.decode()
    assert at("pick", fair.pk) in sheet and at("return", fair.pk) in sheet


def test_a_bins_page_leads_to_what_is_to_be_picked_there(as_planner, fair, sky):
    label = Bin.objects.create(name="B2")
    page = as_planner.get(f"/b/{label.pk}/", follow=True)
    assert "To pick from here 5 in sky 0042 Harbour fair 120" in words(page)
    assert f"{at('pick', fair.pk)}#item-{sky.pk}" in page.content.decode()


def test_no_code_falls_over(as_planner, fair, sky):
    for code in ("/b/999999999999999999/", "i/" + "9" * 30, "²", "'", "%"):
        assert as_planner.get(at("pick", fair.pk), {"find": code}).status_code == 200
        assert as_planner.get(at("count"), {"find": code}).status_code == 422


def test_hours_are_told_by_the_studios_clock(as_planner, studio, fair):
    studio.time_zone = "Asia/Kathmandu"  # 5 h 45 before UTC, the whole year round (IANA time zone database)
    studio.save()
    by_hand = fair.ends + timedelta(hours=5, minutes=45)
    assert f", {by_hand:%H:%M}. What is back earlier" in words(as_planner.get(at("return", fair.pk)))
