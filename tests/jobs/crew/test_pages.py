"""The crew's pages, an act at a time."""

import pytest
from django.urls import reverse

from decor.studio.models import AuditLine
from jobs.crew.models import Absence, Member, Shift
from tests.jobs.crew.makers import away, day_ahead, event, member, shift

pytestmark = pytest.mark.django_db

DAY = str(day_ahead())


def given(who, **changed):
    return {"member": who.pk, "task": "load", "day": DAY, "starts": "12:30", "ends": "16:00"} | changed


@pytest.fixture
def ada(studio):
    return member("Ada Fenn", "lead", "load", phone="01632 960 201")


def pages(on, who, mine, absence):
    return {
        "crew": [],
        "member-add": [],
        "member": [who.pk],
        "member-change": [who.pk],
        "event-crew": [on.pk],
        "shift-add": [on.pk],
        "shift-check": [on.pk],
        "shift": [mine.pk],
    }, {"absence-add": [who.pk], "absence-remove": [absence.pk], "shift-remove": [mine.pk]}


def test_planners_open_the_pages_and_crew_open_none(as_planner, as_owner, as_crew, as_nobody, ada):
    on = event()
    opened, posted = pages(on, ada, shift(on, ada), away(ada, day_ahead(40)))
    for name, args in opened.items():
        address = reverse(f"jobs:{name}", args=args)
        assert as_planner.get(address).status_code == 200, name
        assert as_owner.get(address).status_code == 200, name
        assert as_crew.get(address).status_code == 403, name
        assert as_nobody.get(address).status_code == 302, name
    for name, args in posted.items():
        address = reverse(f"jobs:{name}", args=args)
        assert as_planner.get(address).status_code == 405, name
        assert as_crew.post(address, {"version": 1}).status_code == 403, name
    assert Shift.objects.count() == 1 and Absence.objects.count() == 1


def test_nothing_at_strange_numbers(as_planner, ada):
    for name in ("member", "member-change", "event-crew", "shift-add", "shift-check", "shift"):
        assert as_planner.get(reverse(f"jobs:{name}", args=[999_999])).status_code == 404, name
    for name in ("absence-add", "absence-remove", "shift-remove"):
        assert as_planner.post(reverse(f"jobs:{name}", args=[999_999])).status_code == 404, name


def test_add_a_member_with_a_sign_in(as_planner, crew_user):
    answer = as_planner.post(
        reverse("jobs:member-add"),
        {"name": "Cory Sedge", "phone": "01632 960 301", "skills": ["rig", "load"], "wage_per_hour": "19,50",
         "user": crew_user.pk},
    )  # fmt: skip
    made = Member.objects.get()
    assert answer["Location"] == reverse("jobs:member", args=[made.pk])
    assert made.skills == ["load", "rig"] and str(made.wage_per_hour) == "19.50" and made.user == crew_user
    page = as_planner.get(reverse("jobs:member-add")).content.decode()
    assert "Cory Sedge" not in page.split("Signs in as")[1], "a sign-in that is taken is not offered again"


def test_a_member_without_a_name_or_with_a_wage_below_zero(as_planner):
    answer = as_planner.post(reverse("jobs:member-add"), {"name": "", "wage_per_hour": "-1"})
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"name", "wage_per_hour"}
    assert not Member.objects.exists()


def test_change_a_member_and_meet_somebody_elses_change(as_planner, ada):
    address = reverse("jobs:member-change", args=[ada.pk])
    new = {"name": "Ada Rush", "phone": "1", "skills": ["lead"], "active": "on", "version": 1}
    assert as_planner.post(address, new).status_code == 302
    answer = as_planner.post(address, new | {"name": "Ada Moss"})
    assert answer.status_code == 409
    text = answer.content.decode()
    assert "Ada Moss" in text and "Ada Rush" in text
    ada.refresh_from_db()
    assert ada.name == "Ada Rush"
    kept = {**new, "name": "Ada Moss", "version": 2}
    assert as_planner.post(address, kept).status_code == 302
    ada.refresh_from_db()
    assert (ada.name, ada.active, ada.skills) == ("Ada Moss", True, ["lead"])


def test_who_left_stands_apart_with_what_they_are_still_on(as_planner, ada):
    shift(event(), ada)
    ada.active = False
    ada.save()
    page = as_planner.get(reverse("jobs:crew")).content.decode()
    assert "No longer here" in page and "Still has a shift" in page


def test_days_away_and_back(as_planner, ada):
    address = reverse("jobs:absence-add", args=[ada.pk])
    assert as_planner.post(address, {"first_day": DAY, "note": "wedding"}).status_code == 302
    page = as_planner.get(reverse("jobs:member", args=[ada.pk])).content.decode()
    assert "wedding" in page
    taken_back = as_planner.post(reverse("jobs:absence-remove", args=[Absence.objects.get().pk]))
    assert taken_back.status_code == 302 and not Absence.objects.exists()
    assert AuditLine.objects.filter(act="took back days away").exists()


def test_days_away_over_a_shift_name_the_shift(as_planner, ada):
    shift(event(), ada)
    answer = as_planner.post(reverse("jobs:absence-add", args=[ada.pk]), {"first_day": DAY})
    assert answer.status_code == 422 and not Absence.objects.exists()
    assert "Ada Fenn is on Harbour library centenary" in answer.content.decode()


def test_put_somebody_on(as_planner, ada):
    on = event()
    answer = as_planner.post(reverse("jobs:shift-add", args=[on.pk]), given(ada, note="Bring the tall ladder."))
    assert answer["Location"] == reverse("jobs:event-crew", args=[on.pk])
    page = as_planner.get(answer["Location"]).content.decode()
    assert "Ada Fenn is on Harbour library centenary." in page
    assert "12:30 to 16:00" in page and "Bring the tall ladder." in page


def test_a_double_tap_puts_on_once(as_planner, ada):
    address, body = reverse("jobs:shift-add", args=[event().pk]), given(ada, request_key="same")
    assert {as_planner.post(address, body).status_code for _ in range(3)} == {302}
    assert Shift.objects.count() == 1


def test_a_hard_clash_is_refused_with_its_own_words(as_planner, ada):
    shift(event("Regatta prize-giving"), ada)
    answer = as_planner.post(reverse("jobs:shift-add", args=[event().pk]), given(ada, anyway="on"))
    text = answer.content.decode()
    assert answer.status_code == 422 and Shift.objects.count() == 1
    assert "Ada Fenn is on Regatta prize-giving at Quay Hall" in text and "09:30 to 13:40" in text
    assert "id_anyway" not in text


def test_a_missing_skill_asks_for_a_tick_and_keeps_what_was_entered(as_planner, ada):
    address, body = reverse("jobs:shift-add", args=[event().pk]), given(ada, task="drive", note="the long van")
    answer = as_planner.post(address, body)
    text = answer.content.decode()
    assert answer.status_code == 422 and not Shift.objects.exists()
    assert 'id="id_anyway"' in text and "no tick at “Drive the van”" in text and "the long van" in text
    assert as_planner.post(address, body | {"anyway": "on"}).status_code == 302
    assert Shift.objects.get().task == "drive"


def test_looking_first_saves_nothing(as_planner, ada):
    """The button for those without JavaScript."""
    away(member("Bo Sallow", "rig"), day_ahead())
    answer = as_planner.post(reverse("jobs:shift-add", args=[event().pk]), given(ada, check="1"))
    text = answer.content.decode()
    assert answer.status_code == 200 and not Shift.objects.exists()
    assert "Ada Fenn is free then." in text and "away" in text


def test_the_panel_answers_while_one_chooses(as_planner, ada):
    on = event()
    busy = shift(event("Regatta"), ada)
    address = reverse("jobs:shift-check", args=[on.pk])
    text = as_planner.get(address, given(ada)).content.decode()
    assert "Can&#x27;t be" in text or "Can't be" in text
    assert "nobody is in two places" in text and "Not free" in text
    assert "<html" not in text
    own = as_planner.get(
        reverse("jobs:shift-check", args=[busy.event_id]), given(ada, starts="09:30", ends="13:40", shift=busy.pk)
    )
    assert "is free then" not in own.content.decode()  # a note: it begins before load-in
    assert "nobody is in two places" not in own.content.decode()
    assert as_planner.get(address, {"shift": "x", "day": "?"}).status_code == 200
    assert Shift.objects.count() == 1


def test_a_fresh_page_already_says_who_is_free(as_planner, ada):
    text = as_planner.get(reverse("jobs:shift-add", args=[event().pk])).content.decode()
    assert "Everybody, at that time" in text and "Free" in text
    assert 'role="alert"' not in text


def test_a_shift_that_ends_before_it_starts(as_planner, ada):
    answer = as_planner.post(reverse("jobs:shift-add", args=[event().pk]), given(ada, starts="16:00", ends="12:00"))
    assert answer.status_code == 422 and "It ends before it starts." in answer.content.decode()


def test_change_a_shift_and_meet_somebody_elses_change(as_planner, ada):
    mine = shift(event(), ada, "load", "12:30", "16:00")
    address = reverse("jobs:shift", args=[mine.pk])
    assert 'value="12:30"' in as_planner.get(address).content.decode()
    assert as_planner.post(address, given(ada, version=1, ends="16:30")).status_code == 302
    answer = as_planner.post(address, given(ada, version=1, ends="17:00"))
    text = answer.content.decode()
    assert answer.status_code == 409 and "17:00" in text and "16:30" in text
    mine.refresh_from_db()
    assert mine.version == 2
    assert as_planner.post(address, given(ada, version=2, ends="17:00")).status_code == 302


def test_a_double_tap_on_change_counts_once(as_planner, ada):
    mine = shift(event(), ada, "load", "12:30", "16:00")
    body = given(ada, version=1, ends="16:30", request_key="same")
    assert {as_planner.post(reverse("jobs:shift", args=[mine.pk]), body).status_code for _ in range(2)} == {302}


def test_take_somebody_off(as_planner, ada):
    mine = shift(event(), ada)
    address = reverse("jobs:shift-remove", args=[mine.pk])
    assert as_planner.post(address, {"version": 7}).status_code == 409
    assert as_planner.post(address, {"version": "x"}).status_code == 409
    assert Shift.objects.exists()
    assert as_planner.post(address, {"version": 1}).status_code == 302
    assert not Shift.objects.exists()
    assert AuditLine.objects.filter(act="took off Ada Fenn").exists()
