"""The day sheet: one's own, whole, in the venue's time, without a price."""

import re
from dataclasses import fields, is_dataclass
from decimal import Decimal

import pytest
from django.db import connection, models
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.crew.models import Member, Shift
from jobs.day.work import PARTS
from jobs.designs.models import Piece
from jobs.estimates.models import Estimate
from jobs.estimates.services import estimate_now
from jobs.events.models import Event, Stage
from tests.jobs.crew.makers import event, member, shift, venue

pytestmark = pytest.mark.django_db


def sheet(client, on, **asked):
    return client.get(reverse("jobs:day-sheet", args=[on.pk]), asked)


def words(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def test_crew_see_the_sheet_of_an_event_they_are_on(as_crew, worked):
    text = words(sheet(as_crew, worked))
    for said in (
        "Harbour library centenary",
        "12:30 to 16:40",
        "Load panels",
        "Bring the tall ladder.",
        "Ada Fenn",
        "2 Wherry Lane",
        "Side door, two steps, ring the bell.",
        "Nell Barrow",
        "Smoke detectors over the stage.",
        "Lighthouse panel",
        "Spiral columns, 2 alike",
        "Load-in 12:00",
        "Doors 17:00",
        "End 22:00",
        "Strike 22:30",
        "Local codes and licensed practice decide",
    ):
        assert said in text, said


def test_links_to_ring_and_to_find_it(as_crew, worked):
    page = sheet(as_crew, worked).content.decode()
    assert 'href="tel:01632960201"' in page
    assert 'href="tel:+35316329600"' in page
    assert 'href="geo:0,0?q=Quay%20Hall%2C%202%20Wherry%20Lane%20Saltmarsh"' in page
    assert "http://" not in page.replace("http://www.w3.org", "") and "https://" not in page


def test_nobody_elses_event_and_nobody_elses_times(as_crew, as_other_crew, as_nobody, worked, cory):
    elsewhere = event("Regatta")
    shift(elsewhere, member("Bo Sallow"))
    assert sheet(as_crew, elsewhere).status_code == 404
    assert sheet(as_other_crew, worked).status_code == 404
    assert sheet(as_nobody, worked).status_code == 302
    assert as_crew.get(reverse("jobs:day-sheet", args=[999_999])).status_code == 404
    lead = Shift.objects.get(event=worked, task="lead")
    text = words(sheet(as_crew, worked, member=lead.member_id))
    assert "12:30 to 16:40" in text and "09:00 to 18:00" not in text


def test_taken_off_the_event_the_sheet_is_gone(as_crew, worked, cory):
    Shift.objects.filter(member=cory).delete()
    assert sheet(as_crew, worked).status_code == 404


def test_planners_look_at_anybodys(as_planner, as_owner, worked, ada):
    lead = words(sheet(as_planner, worked, member=ada.pk))
    assert "09:00 to 18:00" in lead and "12:30 to 16:40" not in lead
    assert "Whose day sheet" in lead
    assert sheet(as_owner, worked).status_code == 200
    assert sheet(as_planner, worked, member=999_999).status_code == 404
    empty = words(sheet(as_planner, event("Nobody on it")))
    assert "Nobody is on it yet" in empty and "nobody named yet" in empty


def test_the_lead_reads_that_they_lead(as_crew, centenary, cory):
    shift(centenary, cory, "lead")
    assert "Lead you" in words(sheet(as_crew, centenary))


def test_times_are_the_venues(as_crew, cory):
    far = event(hall=venue("Long Pier", time_zone="America/Halifax"))
    shift(far, cory, "load", "12:30", "16:40")
    text = words(sheet(as_crew, far))
    assert "12:30 to 16:40" in text and "Doors 17:00" in text and "America/Halifax" in text


def test_a_strike_on_the_next_day_says_the_day(as_crew, cory, centenary):
    shift(centenary, cory)
    Event.objects.filter(pk=centenary.pk).update(strike=centenary.strike.replace(hour=23, minute=30))
    text = words(sheet(as_crew, centenary))
    summer = centenary.doors.astimezone(centenary.zone).utcoffset().total_seconds() > 0
    assert re.search(r"Strike \w{3} \d+ \w+ 00:30" if summer else "Strike 23:30", text)


def test_a_called_off_event_says_so_first(as_crew, worked):
    Event.objects.filter(pk=worked.pk).update(stage=Stage.CANCELLED)
    assert "This event is cancelled: don't set out." in words(sheet(as_crew, worked)).replace("&#x27;", "'")


def test_pieces_are_drawn_with_their_sizes(as_crew, worked):
    page = sheet(as_crew, worked)
    drawn = page.content.decode()
    assert drawn.count('role="img"') == 2
    assert "about 3.3 × 2.6 m" in drawn and "about 1.8 m, spiral" in drawn
    for piece in page.context["sheet"].pieces:
        assert piece.size and piece.drawing and "<svg" in piece.drawing


def test_without_an_estimate_the_order_is_the_pieces_own(as_crew, worked):
    steps = sheet(as_crew, worked).context["sheet"].steps
    labels = [(step.place, step.label) for step in steps]
    assert labels.index(("in the workshop", "Open, join")) < labels.index(("in the workshop", "Load"))
    assert labels.index(("in the workshop", "Load")) < labels.index(("on the road", "Drive"))
    assert labels.index(("at the venue", "Carry in")) < labels.index(("at the venue", "Inflate, tie"))
    assert labels[-1] == ("at the venue", "Strike")
    assert not any(step.when for step in steps)


def test_with_an_estimate_the_order_has_times(as_crew, worked):
    found = estimate_now(event=worked)
    steps = sheet(as_crew, worked).context["sheet"].steps
    bars = found.result["day_backwards"]
    assert [step.label for step in steps] == [*(bar["label"] for bar in bars), "Strike"]
    carry = next(step for step in steps if step.label == "Carry in")
    assert carry.when.startswith("12:00"), "the venue's part begins with load-in"
    assert steps[-1].when == "from 22:30"
    assert any("Load" in task for step in steps for task in step.tasks)


def test_an_estimate_of_other_pieces_is_not_followed(as_crew, worked):
    estimate_now(event=worked)
    Piece.objects.filter(event=worked, kind="column").delete()
    assert not any(step.when for step in sheet(as_crew, worked).context["sheet"].steps)


def test_cautions_follow_the_pieces(as_crew, worked):
    calm = " ".join(sheet(as_crew, worked).context["sheet"].cautions)
    assert "choke children" in calm and "Helium" not in calm and "Wind" not in calm
    Piece.objects.filter(event=worked, kind="column").update(fill="helium")
    worked.venue.indoors = False
    worked.venue.save()
    rough = " ".join(sheet(as_crew, worked).context["sheet"].cautions)
    assert "Helium" in rough and "Cylinders" in rough and "Wind" in rough


def test_a_piece_that_cannot_be_worked_out_still_stands_there(as_crew, worked):
    Piece.objects.create(event=worked, kind="kite", title="A kind that went away", position=9)
    Piece.objects.filter(kind="column").update(measures={"rough": True, "height": 0, "unit": "m", "balloons": 4,
                                                         "pattern": "spiral", "colours": []})  # fmt: skip
    page = sheet(as_crew, worked)
    assert page.status_code == 200
    assert "A kind that went away" in words(page) and "Spiral columns" in words(page)


# No price, cost or wage, anywhere.

MONEY_WORDS = ("price", "cost", "wage", "margin", "quote", "deposit", "tax", "overhead", "amount", "currency")


def walk(value, path="", seen=None):
    """Every name and value within what a template was given, rows of tables with all their fields."""
    seen = set() if seen is None else seen
    if id(value) in seen:
        return
    seen.add(id(value))
    yield path, value
    if isinstance(value, dict):
        parts = value.items()
    elif isinstance(value, models.Model):
        parts = ((f.attname, getattr(value, f.attname)) for f in value._meta.concrete_fields)
    elif is_dataclass(value) and not isinstance(value, type):
        parts = ((f.name, getattr(value, f.name)) for f in fields(value))
    elif isinstance(value, list | tuple | set | frozenset):
        parts = enumerate(value)
    else:
        parts = ()
    for name, part in parts:
        yield from walk(part, f"{path}.{name}", seen)


def given_to_templates(answer):
    for layer in answer.context:
        for scope in layer.dicts:
            for name, value in scope.items():
                # The request and its sign-in are the framework's; no template of the sheet reads them further.
                if name not in {"request", "perms", "csrf_token", "debug", "sql_queries"}:
                    yield from walk(value, str(name))


@pytest.mark.parametrize("address", ["day-sheet", "today"])
def test_no_money_in_what_crew_pages_are_given(as_crew, worked, address):
    estimate_now(event=worked)
    args = [worked.pk] if address == "day-sheet" else []
    answer = as_crew.get(reverse(f"jobs:{address}", args=args))
    parts = list(given_to_templates(answer))
    assert any(value == "Harbour library centenary" for _, value in parts), "the walk must reach the words"
    for path, value in parts:
        assert not any(word in path.rsplit(".", 1)[-1].lower() for word in MONEY_WORDS), path
        assert not isinstance(value, Decimal), path


def test_the_walk_would_find_money(as_planner, worked):
    """The same walk over a page that may show a wage does find it."""
    answer = as_planner.get(reverse("jobs:member", args=[Shift.objects.first().member_id]))
    assert any("wage" in path for path, _ in given_to_templates(answer))


def test_no_money_in_the_page(as_crew, worked):
    priced = estimate_now(event=worked).result
    text = re.sub(r"<[^>]+>", " ", sheet(as_crew, worked).content.decode())
    for sign in ("€", "EUR", "21.35", "27.45", priced["price_from"], priced["price_to"], "wage", "margin", "price"):
        assert sign not in text, sign


def test_rows_that_hold_money_are_never_read(as_crew, worked, monkeypatch):
    """An estimate's costs and a member's wage stay in the database: only named columns and parts leave it."""
    result = estimate_now(event=worked).result

    def refuse(*args, **kwargs):
        raise AssertionError("a whole row was read")

    monkeypatch.setattr(Estimate, "from_db", refuse)
    monkeypatch.setattr(Member, "from_db", refuse)
    assert sheet(as_crew, worked).status_code == 200
    read = {part.removeprefix("result__") for part in PARTS}
    assert read and not read & {"costs", "quote_low", "quote_high", "price_says", "price_from", "price_to"}
    for part in read:
        for path, value in walk(result[part]):
            assert not any(word in path.rsplit(".", 1)[-1] for word in MONEY_WORDS), (path, value)


def test_the_sheet_reads_little(as_crew, worked):
    estimate_now(event=worked)
    with CaptureQueriesContext(connection) as read:
        sheet(as_crew, worked)
    assert len(read) <= 16, [query["sql"][:90] for query in read]
