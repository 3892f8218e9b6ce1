"""Events, members and shifts of the invented studio, made in few words. Times are local to the venue."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone

from decor.studio.models import User
from jobs.clients.models import Client
from jobs.crew.models import Absence, Member, Shift
from jobs.events.models import Event, Stage, Venue

DUBLIN = ZoneInfo("Europe/Dublin")


def day_ahead(days: int = 30) -> date:
    return timezone.localdate() + timedelta(days=days)


def at(clock: str, *, day: date | None = None, zone: ZoneInfo = DUBLIN) -> datetime:
    return datetime.combine(day or day_ahead(), time.fromisoformat(clock), tzinfo=zone)


def venue(name: str = "Quay Hall", **given: object) -> Venue:
    facts = {
        "address": "2 Wherry Lane\nSaltmarsh",
        "access": "Side door, two steps, ring the bell.",
        "contact_name": "Nell Barrow",
        "contact_phone": "+353 1 632 9600",
        "time_zone": "Europe/Dublin",
        "cautions": "Smoke detectors over the stage.",
    }
    return Venue.objects.create(name=name, **(facts | given))


def event(
    title: str = "Harbour library centenary",
    *,
    day: date | None = None,
    hall: Venue | None = None,
    times: tuple[str, str, str, str] = ("12:00", "17:00", "22:00", "22:30"),
    stage: str = Stage.CONFIRMED,
) -> Event:
    hall = hall or venue()
    load_in, doors, ends, strike = (at(clock, day=day, zone=hall.zone) for clock in times)
    client = Client.objects.create(name="Mara Quill", phone="01632 960 555")
    return Event.objects.create(
        title=title, client=client, venue=hall, stage=stage, load_in=load_in, doors=doors, ends=ends, strike=strike
    )


def member(name: str, *skills: str, user: User | None = None, **given: object) -> Member:
    return Member.objects.create(name=name, skills=list(skills), user=user, **given)


def shift(on: Event, who: Member, task: str = "load", starts: str = "09:30", ends: str = "13:40", **given) -> Shift:
    day = timezone.localtime(on.doors, on.zone).date()
    zone = on.zone
    return Shift.objects.create(
        event=on,
        member=who,
        task=task,
        starts=at(starts, day=day, zone=zone),
        ends=at(ends, day=day, zone=zone),
        **given,
    )


def away(who: Member, first: date, last: date | None = None) -> Absence:
    return Absence.objects.create(
        member=who, starts=at("00:00", day=first), ends=at("00:00", day=(last or first) + timedelta(days=1))
    )
