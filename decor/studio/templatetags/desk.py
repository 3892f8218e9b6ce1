"""The few words and marks that every page draws alike."""

import re
from datetime import UTC, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django import template
from django.template.context import Context
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from decor.studio.requests import FIELD, new_key

register = template.Library()

# Six marks, one for each kind of state; told apart by shape, so that colour is never needed.
MARKS = {
    "tick": '<path d="M2.5 8.5 6.5 12.5 13.5 3.5" fill="none" stroke="currentColor" stroke-width="2.4"/>',
    "triangle": '<path d="M8 1.5 15.5 14.5H.5Z" fill="currentColor"/>',
    "cross": '<path d="M3 3 13 13M13 3 3 13" fill="none" stroke="currentColor" stroke-width="2.4"/>',
    "clock": '<circle cx="8" cy="8" r="6.5" fill="none" stroke="currentColor" stroke-width="2"/>'
    '<path d="M8 4.2V8L10.6 9.8" fill="none" stroke="currentColor" stroke-width="2"/>',
    "dot": '<circle cx="8" cy="8" r="4.5" fill="currentColor"/>',
    "ring": '<circle cx="8" cy="8" r="5.5" fill="none" stroke="currentColor" stroke-width="2.4"/>',
}
STATES = {
    "ok": "tick",
    "warn": "triangle",
    "no": "cross",
    "wait": "clock",
    "off": "dot",
    "none": "ring",
}


@register.simple_tag
def mark(name: str) -> SafeString:
    return format_html(
        '<svg class="mk" viewBox="0 0 16 16" width="14" height="14" aria-hidden="true" focusable="false">{}</svg>',
        mark_safe(MARKS[name]),
    )


@register.simple_tag
def state(kind: str, words: str) -> SafeString:
    """A chip: mark, word and colour. Kinds: ok, warn, no, wait, off, none."""
    css = "off" if kind == "none" else kind
    return format_html('<span class="state {}">{}{}</span>', css, mark(STATES[kind]), words)


@register.simple_tag(takes_context=True)
def request_key(context: Context) -> SafeString:
    """A form that was refused keeps its key; a new page gets a new one."""
    request = context.get("request")
    key = request.POST.get(FIELD) if request is not None else None
    return format_html('<input type="hidden" name="{}" value="{}">', FIELD, key or new_key())


@register.filter
def hours(minutes: float | None) -> str:
    """680 -> 11 h 20; 40 -> 40 min."""
    if minutes is None:
        return ""
    whole = round(float(minutes))
    if whole < 60:
        return f"{whole} min"
    return f"{whole // 60} h" if whole % 60 == 0 else f"{whole // 60} h {whole % 60:02d}"


UNITS = re.compile(r"(?<=\d) (?=(?:h|min|s|m|m²|m³|mm|km|kg|g|l|bar|%|°C)(?![\w²³]))|(?<=\d h) (?=\d\d\b)")


@register.filter
def unbroken(text: str) -> str:
    """Figures in a sentence that no line parts from their units: 13 h 34, 2.8 m³, 20 %."""
    return UNITS.sub("\u00a0", text)


SYMBOLS = {"EUR": "€", "GBP": "£", "USD": "$", "CAD": "CA$", "AUD": "A$", "NZD": "NZ$"}


def money_words(amount: Decimal | str | float, currency: str, *, places: int = 2) -> str:
    value = f"{Decimal(str(amount)):,.{places}f}"
    symbol = SYMBOLS.get(currency)
    sign, value = ("−", value[1:]) if value.startswith("-") else ("", value)
    return f"{sign}{symbol}{value}" if symbol else f"{sign}{currency} {value}"


@register.filter
def money(amount: Decimal | str | None, currency: str) -> str:
    return "" if amount in (None, "") else money_words(amount, currency)


@register.filter
def metres(value: float | None) -> str:
    return "" if value is None else f"{float(value):.2f}".rstrip("0").rstrip(".")


@register.filter
def in_zone(value: datetime | None, zone: ZoneInfo | str) -> datetime | None:
    """The same moment in the venue's zone. Use it before `date`, which else shows the studio's."""
    return value and timezone.localtime(value, ZoneInfo(str(zone)))


def day_words(value: datetime, *, year: bool = False) -> str:
    return f"{value:%a} {value.day} {value:%B}" + (f" {value:%Y}" if year else "")


@register.filter
def day(value: datetime | None) -> str:
    """Sat 13 June, with the year when it is not this one."""
    if not value:
        return ""
    value = _here(value)
    return day_words(value, year=value.year != timezone.localdate().year)


@register.filter
def clock(value: datetime | None) -> str:
    return f"{_here(value):%H:%M}" if value else ""


def _here(value: datetime) -> datetime:
    """A moment as the database gives it stands in UTC, which nobody here lives by: shown in the studio's zone. One that
    was moved to a zone before stays there."""
    return timezone.localtime(value) if isinstance(value, datetime) and value.tzinfo is UTC else value


@register.filter
def plural(number: int, words: str) -> str:
    """{{ 2|plural:"balloon,balloons" }} -> 2 balloons"""
    one, many = words.split(",")
    return f"{number:,} {one if number == 1 else many}"


@register.filter
def figure(number: int) -> str:
    """1200 -> 1,200; -36 -> −36"""
    return f"{number:,}".replace("-", "−")


# Each browser also names those before it; the first that fits is the one.
BROWSERS = (("Edg", "Edge"), ("Firefox", "Firefox"), ("FxiOS", "Firefox"), ("OPR", "Opera"))
BROWSERS += (("Chrome", "Chrome"), ("CriOS", "Chrome"), ("Safari", "Safari"))
DEVICES = (("iPhone", "an iPhone"), ("iPad", "an iPad"), ("Android", "Android"), ("Windows", "Windows"))
DEVICES += (("Mac OS", "a Mac"), ("CrOS", "a Chromebook"), ("Linux", "Linux"))


@register.filter
def device(agent: str) -> str:
    """What a browser calls itself, as far as one would tell one's own phone and computer apart."""
    browser = next((name for key, name in BROWSERS if key in agent), "A browser")
    machine = next((name for key, name in DEVICES if key in agent), "")
    return f"{browser} on {machine}" if machine else browser


@register.simple_tag
def balloon(rgb: str, size: int = 44) -> SafeString:
    """A colour as a shaded balloon, drawn flat enough for print."""
    return format_html(
        '<svg class="balloon" viewBox="0 0 44 44" width="{0}" height="{0}" aria-hidden="true" focusable="false">'
        '<circle cx="22" cy="22" r="21" fill="{1}" stroke="#000" stroke-opacity=".22"/>'
        '<path d="M22 43A21 21 0 0 0 39 10 24 24 0 0 1 8 37 21 21 0 0 0 22 43" fill="#000" fill-opacity=".16"/>'
        '<ellipse cx="15" cy="13" rx="6" ry="4.2" transform="rotate(-38 15 13)" fill="#fff" fill-opacity=".55"/></svg>',
        size,
        rgb,
    )
