"""The day backwards: what is done when, as bars that end at doors."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

LEFT, WIDTH, ROW, BAR = 96, 340, 30, 18
STEPS_MIN = (15, 30, 60, 120, 180, 240, 360, 720, 1440)
MOST_TICKS = 4
APART = 44
PAST_DOORS_MIN = 12.0


def day_backwards(bars: Sequence[dict[str, Any]], *, doors: datetime, zone: ZoneInfo) -> SafeString:
    """As SVG; its words for readers are the same bars as a sentence."""
    if not bars:
        return SafeString("")
    first = bars[0]["start_offset_min"]
    scale = (WIDTH - LEFT - 14) / (PAST_DOORS_MIN - first)

    def across(offset_min: float) -> float:
        return LEFT + (offset_min - first) * scale

    names = list(dict.fromkeys(_name(bar) for bar in bars))
    bottom = (len(names) + 1) * ROW
    shapes = format_html_join("", '<text x="0" y="{}" class="label">{}</text>', _labels([*names, "Doors"]))
    shapes += format_html_join(
        "",
        '<rect class="bar {}" x="{}" y="{}" width="{}" height="{}" rx="3"/>',
        (
            (bar["place"], f"{across(bar['start_offset_min']):.1f}", names.index(_name(bar)) * ROW + 6,
             f"{max(2.0, (bar['end_offset_min'] - bar['start_offset_min']) * scale):.1f}", BAR)
            for bar in bars
        ),
    )  # fmt: skip
    shapes += format_html('<line class="doors" x1="{0}" x2="{0}" y1="0" y2="{1}"/>', f"{across(0):.1f}", bottom - 2)
    shapes += format_html_join(
        "",
        '<text x="{}" y="{}" class="tick" text-anchor="middle">{}</text>',
        ((f"{across(offset):.1f}", bottom + 14, words) for offset, words in _ticks(first, scale, doors, zone)),
    )
    return format_html(
        '<svg class="dayback" viewBox="0 0 {} {}" role="img" aria-label="{}">{}</svg>',
        WIDTH,
        bottom + 20,
        _sentence(bars, doors, zone),
        shapes,
    )


def _name(bar: dict[str, Any]) -> str:
    return bar["label"] if bar["label"] != "Open, join" or bar["place"] == "workshop" else "Join there"


def _labels(names: Sequence[str]) -> list[tuple[int, str]]:
    return [(at * ROW + 20, name) for at, name in enumerate(names)]


def _ticks(first: float, scale: float, doors: datetime, zone: ZoneInfo) -> list[tuple[float, str]]:
    """Round times on the venue's clock, few enough to stay apart, and doors."""
    step = next((step for step in STEPS_MIN if -first / step <= MOST_TICKS), STEPS_MIN[-1])
    local = timezone.localtime(doors, zone)
    offset = -float((local.hour * 60 + local.minute) % step or step)
    found = [(0.0, f"{local:%H:%M}")]
    while offset >= first:
        # One that comes too near to doors would be written over it.
        if -offset * scale >= APART:
            found.append((offset, f"{timezone.localtime(doors + timedelta(minutes=offset), zone):%H:%M}"))
        offset -= step
    return found


def _sentence(bars: Sequence[dict[str, Any]], doors: datetime, zone: ZoneInfo) -> str:
    def clock(offset_min: float) -> str:
        return f"{timezone.localtime(doors + timedelta(minutes=offset_min), zone):%H:%M}"

    parts = [f"{_name(bar)} {clock(bar['start_offset_min'])} to {clock(bar['end_offset_min'])}" for bar in bars]
    return "The day backwards: " + "; ".join(parts) + f"; doors {clock(0)}"
