"""Spans of time as they are said."""

from datetime import datetime, tzinfo

from django.utils import timezone

from decor.studio.templatetags.desk import day_words


def times_words(starts: datetime, ends: datetime, zone: tzinfo | None = None) -> str:
    """09:30 to 13:40; the end's day is said where it is another one: 22:00 to Sun 14 June 01:00"""
    first, last = timezone.localtime(starts, zone), timezone.localtime(ends, zone)
    until = f"{last:%H:%M}" if first.date() == last.date() else f"{day_words(last)} {last:%H:%M}"
    return f"{first:%H:%M} to {until}"


def span_words(starts: datetime, ends: datetime, zone: tzinfo | None = None) -> str:
    """Sat 13 June 09:30 to 13:40"""
    first = timezone.localtime(starts, zone)
    return f"{day_words(first)} {times_words(starts, ends, zone)}"


def away_words(starts: datetime, ends: datetime, zone: tzinfo | None = None) -> str:
    """Whole days as days: Mon 1 June to Fri 5 June; part of a day with its times."""
    first, last = timezone.localtime(starts, zone), timezone.localtime(ends, zone)
    if first.time() != last.time() or first.hour or first.minute:
        return span_words(starts, ends, zone)
    # Half-open: the last midnight belongs to the day after.
    final = last.fromordinal(last.toordinal() - 1)
    return day_words(first) if first.date() == final.date() else f"{day_words(first)} to {day_words(final)}"


def dial(number: str) -> str:
    """What a telephone dials of a number that was written for people."""
    return "".join(sign for sign in number if sign in "0123456789+")
