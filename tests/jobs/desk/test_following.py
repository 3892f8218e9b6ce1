"""A promise follows the design at once, or says what is missing and keeps the old one."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import BackgroundJob
from inventory.availability import free
from inventory.models import Hardware, Item, Latex, Reservation
from inventory.picking import pick
from inventory.services import StillOut, reservation_hold, reservation_release
from jobs import tasks
from jobs.crew.models import DayHold
from jobs.designs.models import Piece
from jobs.desk import services
from jobs.desk.following import ESTIMATED, KIND, Followed, event_follow, follow_later, followed_words
from jobs.desk.matters import lines_of
from jobs.desk.models import Unmet
from jobs.desk.stock import event_needs, stock_row
from jobs.estimates.services import estimate_now, estimate_request
from jobs.events.models import Event, Stage
from tests.jobs.desk.asking import estimated_event, fill_store, hire, piece, save_pieces, stock
from tests.jobs.desk.conftest import coming, make_event


@pytest.fixture
def store(studio):
    hire()
    return fill_store(coming(0))


@pytest.fixture
def event(store, ann, hall):
    return estimated_event(ann, hall)


@pytest.fixture
def confirmed(event):
    return services.event_confirm(event=event)


def promised(event) -> dict[str, int]:
    event.refresh_from_db()
    return dict(event.reservation.lines.values_list("item__name", "quantity"))


def the_columns(event) -> Piece:
    return Piece.objects.get(event=event, kind="column")


def change(client, event, count, **status):
    """The columns' page sent with another number of them."""
    row = the_columns(event)
    url = reverse("jobs:piece-edit", args=[event.pk, row.pk])
    form = client.get(url).context["forms"]
    sent = {field.html_name: field.value() for one in form for field in one if field.value() not in (None, False)}
    answer = client.post(url, sent | {"count": str(count)}, follow=True)
    assert answer.status_code == 200, answer.content.decode()
    return answer.content.decode()


def test_more_is_reserved_at_once_and_the_page_says_so(as_planner, confirmed, store):
    before = promised(confirmed)
    text = change(as_planner, confirmed, 3)
    after = promised(confirmed)
    assert after["Pole"] == 3 and before["Pole"] == 2 and after["red, 11 in"] > before["red, 11 in"]
    assert after["sky, 5 in"] == before["sky, 5 in"]
    assert 'class="outcome wide"' in text and "Kept for it: " in text and "1 more Pole" in text and " reserved." in text
    assert free([store["pole"].pk], confirmed.load_in, confirmed.strike)[store["pole"].pk] == 6 - 3
    assert not Unmet.objects.exists()


def test_many_colours_are_told_as_one_sum(store):
    """A photograph takes twenty: nobody reads them one by one."""
    kind = {"kind": Item.Kind.LATEX, "nominal_in": 9}
    balloons = [Latex.objects.create(name=f"hue {n}", colour=f"hue {n}", **kind).pk for n in range(6)]
    pole = Item.objects.get(name="Pole").pk
    more = dict.fromkeys(balloons, 40) | {pole: 1}
    words = Followed(more, dict.fromkeys(balloons[:4], 2), {}).says
    assert words.startswith("Kept for it: 240 more balloons of 6 colours; 1 more Pole reserved.")
    assert words.count(" 2 of ") == 4
    missing = Followed({}, {}, dict.fromkeys(balloons[:5], 1_000)).says
    assert missing == "5,000 balloons of 5 colours are missing; what was promised before is kept."


def test_less_is_given_back_at_once(as_planner, confirmed, store):
    text = change(as_planner, confirmed, 1)
    assert promised(confirmed)["Pole"] == 1
    assert "1 of Pole" in text and "free for others again." in text and "Kept for it" not in text


def test_what_is_missing_is_said_and_the_old_promise_is_whole(as_planner, confirmed, store):
    before = promised(confirmed)
    text = change(as_planner, confirmed, 8)
    assert promised(confirmed) == before
    assert "2 of Pole; 2 of Base plate are missing; what was promised before is kept." in text
    assert 'class="outcome wide warn"' in text
    (line,) = lines_of([Event.objects.select_related("venue", "reservation").get(pk=confirmed.pk)], timezone.now())
    assert line.chip.words == "2 things missing" and line.chip in line.to_settle
    assert "2 things missing" in as_planner.get(reverse("jobs:today")).content.decode()
    page = as_planner.get(reverse("jobs:event-stock", args=[confirmed.pk])).content.decode()
    assert "Reserved for what it was before" in page and "What was promised before is kept." in page
    assert "what was promised before is kept" in stock_row(confirmed).small


def test_it_is_settled_once_it_fits_again(as_planner, confirmed, store):
    change(as_planner, confirmed, 8)
    assert Unmet.objects.count() == 1
    change(as_planner, confirmed, 2)
    assert not Unmet.objects.exists()


def test_it_is_settled_once_it_came_in_and_was_confirmed_anew(as_planner, confirmed, store):
    change(as_planner, confirmed, 8)
    stock(store["pole"], 2, coming(0))
    stock(store["base"], 2, coming(0))
    estimate_now(event=confirmed)
    confirmed.refresh_from_db()
    services.event_confirm(event=confirmed)
    assert promised(confirmed)["Pole"] == 8 and not Unmet.objects.exists()


def test_releasing_settles_it(as_planner, confirmed, store):
    change(as_planner, confirmed, 8)
    services.event_release(event=confirmed)
    assert not Unmet.objects.exists()
    assert change(as_planner, confirmed, 3).count("Kept for it") == 0


def test_a_hold_follows_too_and_keeps_its_end(as_planner, event, store):
    expires = services.event_hold(event=event)
    text = change(as_planner, event, 3)
    assert "1 more Pole" in text and " held." in text
    assert promised(event)["Pole"] == 3 and event.reservation.expires == expires


def test_a_lapsed_hold_follows_nobody(as_planner, event, store):
    services.event_hold(event=event)
    Reservation.objects.update(expires=timezone.now() - timedelta(minutes=1))
    text = change(as_planner, event, 3)
    assert promised(event)["Pole"] == 2 and "Kept for it" not in text


def test_an_event_without_a_promise_is_not_told_of_one(as_planner, event):
    assert "Kept for it" not in change(as_planner, event, 3)
    event.refresh_from_db()
    assert event.reservation is None


def test_another_piece_and_none_at_all(as_planner, confirmed, store):
    url = reverse("jobs:piece-add", args=[confirmed.pk]) + "?kind=column"
    given = {
        "title": "More", "count": "1", "built_at": "workshop", "fill": "air", "height": "1.8", "unit": "m",
        "balloons": "4", "pattern": "spiral", "colours": ["red", "white"],
    }  # fmt: skip
    text = as_planner.post(url, given, follow=True).content.decode()
    assert "1 more Pole" in text and promised(confirmed)["Pole"] == 3
    for row in Piece.objects.filter(event=confirmed):
        address = reverse("jobs:piece-remove", args=[confirmed.pk, row.pk])
        text = as_planner.post(address, {}, follow=True).content.decode()
    assert "is removed." in text and "free for others again." in text
    assert promised(confirmed) == {} and confirmed.reservation.state == "confirmed"


def test_what_cannot_be_worked_out_keeps_the_promise(confirmed, store):
    before = promised(confirmed)
    Item.objects.filter(pk=store["net"].pk).update(active=False)
    words = "What it needs now can't be worked out; what was promised before is kept."
    assert followed_words(confirmed.pk) == (words, False)
    assert promised(confirmed) == before


def test_a_pole_is_not_changed_for_another_that_serves_as_well(as_planner, confirmed, store):
    longer = Hardware.objects.create(kind="hardware", name="A long pole", purpose="pole", returnable=True)
    stock(longer, 50, coming(0))
    stock(store["base"], 50, coming(0))
    change(as_planner, confirmed, 3)
    assert promised(confirmed)["Pole"] == 3 and "A long pole" not in promised(confirmed)
    change(as_planner, confirmed, 8)
    assert (promised(confirmed)["Pole"], promised(confirmed)["A long pole"]) == (6, 2)


def test_what_is_out_stays_promised_when_the_design_needs_less(as_planner, confirmed, store):
    pick(reservation=confirmed.reservation, item=store["pole"], quantity=2)
    change(as_planner, confirmed, 1)
    assert promised(confirmed)["Pole"] == 2, "two are out with it"


def test_a_later_event_that_was_there_first_is_not_broken(as_planner, confirmed, store, ann, hall):
    """All that is free is promised to a later event; the earlier one may not take it by growing."""
    rest = free([store["red 11"].pk], confirmed.load_in, confirmed.strike)[store["red 11"].pk]
    later = reservation_hold(
        lines=[(store["red 11"].pk, rest)], starts=confirmed.load_in + timedelta(days=60),
        ends=confirmed.strike + timedelta(days=60), label="Later", expires=timezone.now() + timedelta(days=3),
    )  # fmt: skip
    text = change(as_planner, confirmed, 3)
    assert "of red, 11 in" in text and "missing" in text and promised(confirmed)["Pole"] == 2
    assert later.lines.get().quantity == rest
    assert free([store["red 11"].pk], later.starts, later.ends, exclude=later)[store["red 11"].pk] == rest


def test_the_worker_follows_an_estimate_with_stock_and_hours(confirmed, store):
    hours = DayHold.objects.get(event=confirmed)
    Piece.objects.filter(pk=the_columns(confirmed).pk).update(count=6, version=2)
    estimate = estimate_request(event=confirmed)
    tasks.background_run(estimate.job_id)
    assert estimate_request(event=confirmed).result is not None and promised(confirmed)["Pole"] == 2
    job = BackgroundJob.objects.get(kind=ESTIMATED, subject_id=estimate.pk)
    tasks.background_run(job.pk)
    job.refresh_from_db()
    assert job.state == BackgroundJob.State.DONE and promised(confirmed)["Pole"] == 6
    assert DayHold.objects.get(event=confirmed).person_minutes > hours.person_minutes
    assert DayHold.objects.get(event=confirmed).expires is None
    assert event_needs(confirmed).covers


def test_a_stroke_of_the_editor_is_followed_by_the_worker(confirmed, store):
    Piece.objects.filter(pk=the_columns(confirmed).pk).update(count=3, version=2)
    follow_later(event_id=confirmed.pk)
    follow_later(event_id=confirmed.pk)
    job = BackgroundJob.objects.get(kind=KIND)
    tasks.background_run(job.pk)
    job.refresh_from_db()
    assert job.state == BackgroundJob.State.DONE and promised(confirmed)["Pole"] == 3
    follow_later(event_id=confirmed.pk)
    assert BackgroundJob.objects.get(kind=KIND).state == BackgroundJob.State.QUEUED, (
        "the one that is done waits no more"
    )


def test_a_design_that_is_changed_meanwhile_is_read_again(confirmed, store, monkeypatch):
    from jobs.desk import following

    worked_out, row = following._wanted, the_columns(confirmed)

    def slow(event):
        found = worked_out(event)
        if Piece.objects.get(pk=row.pk).version == 1:
            Piece.objects.filter(pk=row.pk).update(count=4, version=2)
        return found

    monkeypatch.setattr(following, "_wanted", slow)
    event_follow(event=Event.objects.select_related("reservation", "venue").get(pk=confirmed.pk))
    assert promised(confirmed)["Pole"] == 4


def test_a_design_that_cannot_be_worked_out_fails_no_job(confirmed, store):
    Item.objects.filter(pk=store["net"].pk).update(active=False)
    follow_later(event_id=confirmed.pk)
    job = BackgroundJob.objects.get(kind=KIND)
    tasks.background_run(job.pk)
    job.refresh_from_db()
    assert job.state == BackgroundJob.State.DONE


def test_a_hold_made_by_hand_never_takes_what_a_later_event_has(as_planner, event, store, ann, hall):
    """Balloons are used up: the later event was there first, and the earlier one is told what is free besides."""
    later = make_event(ann, hall, coming(90), title="Later")
    save_pieces(later, piece())
    estimate_now(event=later)
    services.event_confirm(event=later)
    answer = as_planner.post(reverse("jobs:event-hold", args=[event.pk]), {})
    assert answer.status_code == 409
    text = answer.content.decode()
    # 600 sky, of which either wants 525
    assert (
        "short of 450 of sky, 5 in" in text and "525 asked, 75 free" in text and f"{later.number} Later has 525" in text
    )
    assert not Reservation.objects.filter(label__contains="centenary").exists() and event_needs(later).covers
    answer = as_planner.post(reverse("jobs:event-hold", args=[event.pk]), {"partly": "1", "request_key": "part"})
    assert answer.status_code == 302 and promised(event)["sky, 5 in"] == 75
    assert event_needs(later).covers and not event_needs(later).short


def test_nothing_is_given_up_while_pieces_are_out(as_planner, confirmed, store):
    pick(reservation=confirmed.reservation, item=store["pole"], quantity=2)
    with pytest.raises(StillOut):
        reservation_release(reservation=confirmed.reservation)
    answer = as_planner.post(reverse("jobs:event-release", args=[confirmed.pk]), {})
    assert answer.status_code == 409 and "2 pieces are out with it." in answer.content.decode()
    answer = as_planner.post(reverse("jobs:event-stage", args=[confirmed.pk]), {"stage": "cancelled"})
    assert answer.status_code == 409 and "2 pieces are out with it." in answer.content.decode()
    confirmed.refresh_from_db()
    assert (confirmed.stage, confirmed.reservation.state) == (Stage.CONFIRMED, "confirmed")
    assert DayHold.objects.filter(event=confirmed).exists()


def test_what_is_counted_back_is_over(as_planner, confirmed, store):
    Reservation.objects.filter(pk=confirmed.reservation_id).update(state="settled")
    confirmed.refresh_from_db()
    assert followed_words(confirmed.pk) == ("", True) and stock_row(confirmed).stands == "Counted back"
    with pytest.raises(services.CannotHold, match="counted back already"):
        services.event_confirm(event=confirmed)
    (line,) = lines_of([Event.objects.select_related("venue", "reservation").get(pk=confirmed.pk)], timezone.now())
    assert "Hold lapsed" not in [matter.words for matter in line.matters]
