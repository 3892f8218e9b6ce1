"""The quick answer: can we take it that day, and for about how much? Worked out from what the caller said, before
anything is saved, by the same computation as the event's estimate."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils import timezone

from decor.calc.estimate import compute, to_json
from jobs.crew.capacity import Staffing, staffing, vans_free
from jobs.desk import answer_rows as rows
from jobs.desk.closers import check_url
from jobs.desk.drafts import draft_pieces, draft_span, draft_venue
from jobs.desk.laying import Laid, laid_on_free
from jobs.desk.models import BookingDraft
from jobs.desk.verdict import verdict_of
from jobs.desk.workday import Workday, workday_of
from jobs.estimates.inputs import (
    Background,
    PieceLike,
    asked_pieces,
    background_now,
    colours_without_balloons,
    estimate_input,
)
from jobs.estimates.needs import StockLine, needs_of_input, shortages_of, stock_lines
from jobs.estimates.shown import moment_words, price_words, unbroken, whole_up
from jobs.events.conditions import conditions_of
from jobs.events.models import Event, Venue
from jobs.events.rows import Row
from jobs.events.shelf import StockSpan, stock_span
from jobs.events.times import Span

CHIPS = {"ok": "You can", "warn": "You can, if…", "no": "You can't"}


@dataclass(frozen=True)
class Answer:
    """`verdict_kind` is ok, warn or no, that of the worst row; `price_from` and `price_to` are with tax, in whole
    units of the currency, rounded up. `needs` are the stock lines behind it, `pieces` what they are of, each panel on
    the sheets that it was answered for. `refused` tells that nothing could be worked out, and why."""

    verdict_kind: str
    verdict: str
    price_from: Decimal | None = None
    price_to: Decimal | None = None
    currency: str = ""
    rows: list[Row] = field(default_factory=list)
    tightest: str = ""
    spare: str = ""
    needs: list[StockLine] = field(default_factory=list)
    pieces: Sequence[PieceLike] = ()
    refused: bool = False

    @property
    def chip(self) -> str:
        return CHIPS[self.verdict_kind]

    @property
    def price(self) -> str:
        if self.price_from is None or self.price_to is None:
            return ""
        return price_words(self.price_from, self.price_to, self.currency)

    @property
    def partly(self) -> bool:
        """Whether a hold can only take part of the stock until something is bought."""
        return any(line.short for line in self.needs)


@dataclass(frozen=True)
class Facts:
    """Everything that an answer is read from."""

    result: dict[str, Any]
    lines: list[StockLine]
    crew: list[Staffing]
    vans: int
    work: Workday
    span: Span
    shelf: StockSpan
    no_balloon: list[str]
    laid: Laid


def quick_answer(
    *,
    pieces: Sequence[PieceLike],
    starts: datetime,
    doors: datetime,
    ends: datetime,
    strike: datetime,
    venue_facts: Venue,
    now: datetime,
    exclude_event: Event | None = None,
    background: Background | None = None,
    back: str = "",
) -> Answer:
    """`starts` is load-in; `venue_facts` may be a venue that is not saved; `back` is the page that shows the answer,
    for its rows to lead to the check of the same list. Raises ValueError in words where a piece can't be worked out
    at all."""
    background = background or background_now()
    span = Span(starts, doors, ends, strike)
    facts = _facts(pieces, span, venue_facts, now, exclude_event, background)
    found = verdict_of(
        result=facts.result,
        lines=facts.lines,
        crew=facts.crew,
        vans=facts.vans,
        work=facts.work,
        span=span,
        now=now,
        no_balloon=facts.no_balloon,
    )
    tightest, spare = tightest_words(facts, venue_facts)
    check = check_url(facts.lines, facts.shelf, back=back, called="Quick answer") if back else ""
    return Answer(
        verdict_kind=found.kind,
        verdict=found.says,
        price_from=whole_up(Decimal(facts.result["price_from"])),
        price_to=whole_up(Decimal(facts.result["price_to"])),
        currency=background.studio.currency,
        rows=[
            *rows.stock_rows(
                facts.lines, facts.shelf, currency=background.studio.currency, check=check, instead=facts.laid.instead
            ),
            *rows.colour_rows(facts.no_balloon),
            rows.hours_row(facts.result, facts.crew, facts.work),
            rows.van_row(facts.result, facts.vans, facts.work),
        ],
        tightest=tightest,
        spare=spare,
        needs=facts.lines,
        pieces=facts.laid.pieces,
    )


def _facts(
    pieces: Sequence[PieceLike],
    span: Span,
    venue: Venue,
    now: datetime,
    exclude_event: Event | None,
    background: Background,
) -> Facts:
    own = exclude_event.reservation if exclude_event else None
    conditions = conditions_of(venue=venue, load_in=span.load_in, doors=span.doors, ends=span.ends)
    turn_round = background.studio.turn_round_hours
    shelf = stock_span(load_in=span.load_in, strike=span.strike, turn_round_hours=turn_round)

    def lines_of(some: Sequence[PieceLike]) -> list[StockLine]:
        given = estimate_input(pieces=some, conditions=conditions, background=background)
        return stock_lines(needs_of_input(given, background.catalogue, background.store), shelf, now=now, exclude=own)

    laid = laid_on_free(pieces, lines_of, background.catalogue)
    pieces, lines = laid.pieces, laid.lines
    bare = estimate_input(pieces=pieces, conditions=conditions, background=background)
    result = to_json(compute(replace(bare, to_buy=shortages_of(lines))))
    work = workday_of(result, doors=span.doors, strike=span.strike)
    crew = [
        staffing(begin, end, people=work.people, skills=work.skills, exclude_event=exclude_event, now=now)
        for begin, end in work.spans
    ]
    vans = min(vans_free(begin, end, exclude_event=exclude_event, now=now) for begin, end in work.spans)
    no_balloon = colours_without_balloons(pieces, bare, background.catalogue)
    return Facts(result, lines, crew, vans, work, span, shelf, no_balloon, laid)


def tightest_words(facts: Facts, venue: Venue) -> tuple[str, str]:
    """Away by 13:40, at most half an hour to drive, 40 min to carry in and put up. Doors at 17:00: and then
    2 h 10 to spare."""
    work, span = facts.work, facts.span
    doors = timezone.localtime(span.doors, venue.zone)
    begin = moment_words(work.away or work.starts, span.doors, venue.zone)
    parts = [f"Away by {begin}" if work.away else f"Start by {begin}"]
    if work.drive_min:
        # Longer than the bare drive: the day is planned so that four in five go at least as fast.
        parts.append(f"at most {spoken(work.drive_min)} to drive")
    if work.venue_min:
        parts.append(f"{unbroken(work.venue_min)} to carry in and put up")
    spare_min = facts.result["spare_before_doors_min"]
    late_min = work.venue_min - (span.doors - span.load_in).total_seconds() / 60
    spare = f"{unbroken(late_min)} too little" if late_min >= 1 else f"{unbroken(spare_min)} to spare"
    return f"{', '.join(parts)}. Doors at {doors:%H:%M}:", spare


def spoken(minutes: float) -> str:
    whole = round(minutes)
    return {30: "half an hour", 60: "an hour"}.get(whole, unbroken(whole))


def draft_answer(draft: BookingDraft, *, now: datetime | None = None) -> Answer | None:
    """None while the draft does not say yet where, when and what."""
    pieces, venue = draft_pieces(draft), draft_venue(draft)
    span = draft_span(draft, venue)
    if not pieces or venue is None or span is None:
        return None
    try:
        return quick_answer(
            pieces=asked_pieces(pieces),
            starts=span.load_in,
            doors=span.doors,
            ends=span.ends,
            strike=span.strike,
            venue_facts=venue,
            now=now or timezone.now(),
            back=reverse("jobs:ask-answer" if draft.purpose == "ask" else "jobs:book-check", args=[draft.pk]),
        )
    except ValueError as refusal:
        return Answer("no", f"This can't be worked out: {refusal}", refused=True)


def draft_pieces_laid(draft: BookingDraft) -> list[dict[str, Any]]:
    """The draft's pieces as the answer has them: what was said to be free must be what is booked."""
    pieces, answer = draft_pieces(draft), draft_answer(draft)
    if answer is None or len(answer.pieces) != len(pieces):
        return pieces
    return [{**one, "measures": laid.measures} for one, laid in zip(pieces, answer.pieces, strict=True)]
