"""Holds say that they lapse: two days before, two hours before, and once they have.

What is due is found in the rows, so that a sweep that ran late, twice or not at all tells nothing twice and nothing
that is past: of several that are due the last one is told. Someone who has just said how long a hold lasts is not told
what they said."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from decor.studio import mail
from decor.studio.models import Studio
from decor.studio.templatetags.desk import day_words, plural
from inventory import links
from inventory.models import HoldNotice, Reservation
from inventory.rising import stock_rose

Kind = HoldNotice.Kind
BEFORE = {Kind.DAYS: timedelta(days=2), Kind.HOURS: timedelta(hours=2), Kind.LAPSED: timedelta()}
STALE = timedelta(days=7)
"""A hold that lapsed longer ago is no news, such as when the program was off or is new."""
MOST_LINES = 8
MOST_AT_ONCE = 200


@dataclass(frozen=True)
class Ending:
    """A hold that ends soon; `href` is the page of its event, else its own."""

    reservation: Reservation
    expires: datetime
    href: str = ""

    left: timedelta = timedelta()

    @property
    def words(self) -> str:
        return f"{left_words(self.left)} left"

    @property
    def soon(self) -> bool:
        return self.left <= BEFORE[Kind.HOURS]


def kind_at(expires: datetime, now: datetime) -> str | None:
    """How near its end a hold is; None more than two days before.

    >>> from datetime import UTC
    >>> end = datetime(2031, 5, 3, 12, tzinfo=UTC)
    >>> [str(kind_at(end, end - timedelta(hours=hours))) for hours in (49, 48, 3, 2, 0, -5)]
    ['None', 'days', 'days', 'hours', 'lapsed', 'lapsed']
    """
    passed = [kind for kind, before in BEFORE.items() if expires - before <= now]
    return passed[-1] if passed else None


def _ending(now: datetime) -> QuerySet[Reservation]:
    """Holds that end within two days or lapsed lately, for events that are not over; through one index."""
    near = {"expires__lte": now + BEFORE[Kind.DAYS], "expires__gt": now - STALE}
    return Reservation.objects.filter(state=Reservation.State.HOLD, ends__gt=now, **near).order_by("expires", "pk")


def holds_ending(*, now: datetime) -> list[Ending]:
    """Holds that end within two days and are alive, the next to end first, with the pages of their events."""
    rows = [(row, row.expires) for row in _ending(now) if row.expires is not None and row.expires > now]
    pages = links.pages_of(row.pk for row, _ in rows)
    return [Ending(row, expires, pages.get(row.pk, ""), expires - now) for row, expires in rows]


def holds_tell(*, now: datetime) -> list[HoldNotice]:
    """Tells of each hold what is due and was not told, each in a transaction of its own; gives back what was told."""
    due = [row for row in _ending(now) if _due(row, now)]
    told = HoldNotice.objects.filter(reservation__in=[row.pk for row in due])
    known = set(told.values_list("reservation_id", "kind", "expires"))
    left = [row for row in due if (row.pk, _due(row, now), row.expires) not in known]
    return [notice for row in left[:MOST_AT_ONCE] if (notice := _tell(row, now))]


def _due(reservation: Reservation, now: datetime) -> str | None:
    """Nothing where its moment was past already when somebody said how long the hold lasts."""
    kind = kind_at(reservation.expires, now) if reservation.expires else None
    if kind is None or reservation.expires - BEFORE[Kind(kind)] < reservation.end_set:  # type: ignore[operator]
        return None
    return kind


@transaction.atomic
def _tell(reservation: Reservation, now: datetime) -> HoldNotice | None:
    # Locked and read anew: whoever confirms it this moment is not told that it lapses.
    reservation.refresh_from_db(from_queryset=Reservation.objects.select_for_update(no_key=True))
    kind = _due(reservation, now)
    if reservation.state != Reservation.State.HOLD or kind is None or reservation.expires is None:
        return None
    named = {"reservation": reservation, "kind": kind, "expires": reservation.expires}
    notice, made = HoldNotice.objects.get_or_create(**named, defaults={"at": now})
    if not made:
        return None
    if kind == Kind.LAPSED:
        stock_rose(item_ids=reservation.lines.values_list("item_id", flat=True))
    letters_write(notice=notice)
    return notice


def letters_write(*, notice: HoldNotice) -> None:
    """To owner and planners, where mail is on. A warning that could not be sent before the hold's end is not sent."""
    if not mail.mail_is_on():
        return
    subject, text = letter_of(notice)
    for address in mail.planners_addresses():
        mail.mail_write(
            key=f"hold {notice.pk} {address}"[:200],
            to=address,
            subject=subject,
            text=text,
            not_after=notice.expires + (timedelta(days=1) if notice.kind == Kind.LAPSED else timedelta()),
        )


def letter_of(notice: HoldNotice) -> tuple[str, str]:
    """(subject, text)"""
    reservation = notice.reservation
    end = timezone.localtime(notice.expires, _zone())
    when = f"{day_words(end)}, {end:%H:%M}"
    if notice.kind == Kind.LAPSED:
        subject = f"The hold for {reservation.label} has lapsed"
        first = f"The hold for {reservation.label} lapsed on {when}."
        then = "What it held is free for other events now. Hold it again, or let it go."
        empty = "It held nothing yet, and waits no more. Hold it again, or let it go."
    else:
        subject = f"The hold for {reservation.label} ends {when}"
        first = f"The hold for {reservation.label} ends on {when}."
        then = "Confirm it by then, or hold it longer. After that, what it holds is free for other events."
        empty = "It waits for its things, of which none was free. Hold it longer, or it waits no more after that."
    page, holds = links.pages_of([reservation.pk]).get(reservation.pk), _holds(reservation)
    parts = [first, then if holds else empty, holds, f"{settings.SITE_URL}{page}" if page else ""]
    return subject, "\n\n".join(filter(None, parts))


def _zone() -> ZoneInfo:
    return ZoneInfo(Studio.objects.order_by("pk").values_list("time_zone", flat=True).first() or "UTC")


def left_words(left: timedelta) -> str:
    """2 days; 1 day 21 h; 2 hours; 45 minutes"""
    minutes = max(0, int(left.total_seconds() // 60))
    hours = round(minutes / 60)
    if hours >= 24:
        days, rest = divmod(hours, 24)
        return plural(days, "day,days") + (f" {rest} h" if rest else "")
    return plural(hours, "hour,hours") if minutes >= 100 else plural(minutes, "minute,minutes")


def _holds(reservation: Reservation) -> str:
    lines = list(reservation.lines.select_related("item").order_by("item__name"))
    named = [f"{line.quantity:,} × {line.item.name}" for line in lines[:MOST_LINES]]
    if len(lines) > MOST_LINES:
        named.append(f"and {plural(len(lines) - MOST_LINES, 'more,more')}")
    return "It holds:\n" + "\n".join(named) if named else ""
