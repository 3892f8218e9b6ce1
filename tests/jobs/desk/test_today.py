from datetime import timedelta

from django.utils import timezone

from jobs.crew.models import Member
from jobs.desk import drafts
from jobs.events.models import Event, Stage
from tests.jobs.desk.conftest import coming, make_event


def test_an_empty_desk_says_what_it_is_for(as_planner):
    page = as_planner.get("/").content.decode()
    assert "A clean desk" in page and "Book an event" in page and page.count('class="btn"') == 1


def test_a_new_studio_is_told_what_comes_before_the_first_event(as_owner, as_planner, studio):
    studio.phone = studio.email = ""
    studio.save()
    steps = as_owner.get("/").context["first_steps"]
    assert [(what, done) for what, _, done, _ in steps] == [("Stock", False), ("Crew", False), ("The studio", False)]
    studio.phone = "01632 960 100"
    studio.save()
    Member.objects.create(name="Cory")
    steps = as_owner.get("/").context["first_steps"]
    assert [done for _, _, done, _ in steps] == [False, True, True]
    assert [what for what, *_ in as_planner.get("/").context["first_steps"]] == ["Stock", "Crew"]


def test_todays_and_the_coming_days(as_planner, ann, hall):
    now = make_event(ann, hall, coming(0), title="Now")
    soon = make_event(ann, hall, coming(3), title="Soon")
    make_event(ann, hall, coming(30), title="Later")
    days = as_planner.get("/").context["days"]
    assert days[0][0] == "Today" and [x.event for x in days[0][1]] == [now]
    assert [x.event for _, lines in days[1:] for x in lines] == [soon]


def test_a_build_of_two_days_stands_under_both(as_planner, ann, hall):
    event = make_event(ann, hall, coming(2))
    Event.objects.filter(pk=event.pk).update(load_in=event.load_in - timedelta(days=1))
    days = [words for words, lines in as_planner.get("/").context["days"] if lines]
    assert len(days) == 2 and days[0] == "Tomorrow"


def test_what_needs_settling_the_most_urgent_first(as_planner, ann, hall):
    make_event(ann, hall, coming(200), title="Asked today")
    make_event(ann, hall, coming(25), title="Unheld", stage=Stage.CONFIRMED)
    make_event(ann, hall, coming(-2), title="Over", stage=Stage.INSTALLED)
    make_event(ann, hall, coming(5), title="Lost", stage=Stage.LOST)
    assert [x.event.title for x in as_planner.get("/").context["settle"]] == ["Unheld", "Over", "Asked today"]


def test_unfinished_bookings_of_mine(as_planner, as_owner, planner):
    draft = drafts.draft_start(user=planner, purpose="book")
    assert "Not finished booking" not in as_planner.get("/").content.decode(), "nothing was entered yet"
    drafts.draft_save(draft=draft, client={"name": "Bo Fern", "phone": "01632 960777"})
    page = as_planner.get("/").content.decode()
    assert "Bo Fern" in page and f"/book/{draft.pk}/check/" in page
    assert "Bo Fern" not in as_owner.get("/").content.decode()


def test_crew_see_their_own_day_and_nobodys_business(as_crew, ann, hall):
    make_event(ann, hall, coming(0), title="Somebody else's")
    page = as_crew.get("/").content.decode()
    assert "Somebody else" not in page and "Book an event" not in page


def test_nobody_signs_in_first(as_nobody):
    assert as_nobody.get("/").url.startswith("/sign-in/")


def test_the_day_is_the_studios(as_planner):
    assert as_planner.get("/").context["today"].date() == timezone.localdate(timezone=_dublin())


def _dublin():
    from zoneinfo import ZoneInfo

    return ZoneInfo("Europe/Dublin")
