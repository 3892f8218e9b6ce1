"""One item's page in words: what is there, where it is, what is promised, and when it is free."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.http import QueryDict
from django.urls import reverse

from decor.calc.work.rates import rates_from_plain
from decor.studio.models import Studio
from decor.studio.numbers import whole
from decor.studio.templatetags import desk
from inventory import availability, balance, ledger, spans, stocking
from inventory.availability import Detail, Stock
from inventory.curve import USUAL_WEEKS, WEEKS, Curve, curve_of
from inventory.expecting import on_order_of, on_order_words
from inventory.facts import facts_of
from inventory.gap_words import drafted_words, order_address, send_act
from inventory.later import first_later
from inventory.lots_shown import LotLine, lot_lines
from inventory.models import Item
from inventory.ordering import Drafted, drafts_of
from inventory.services import ShortLine, ToBuy, packs_to_buy
from inventory.shown import Chip, Promise, day_words, promise_lines
from inventory.spans import SpanForm
from inventory.turnover_words import turnover_words


@dataclass(frozen=True)
class Between:
    """The answer to: free between then and then?"""

    form: SpanForm
    chip: Chip | None = None
    says: str = ""
    small: str = ""
    query: str = ""


@dataclass(frozen=True)
class ItemPage:
    detail: Detail
    verdict: str
    verdict_kind: str
    act: str
    act_href: str
    to_buy: ToBuy | None
    out: int
    unticked: tuple[str, ...]
    if_it_arrives: str
    expected_words: str
    late_words: str
    drafts: list[tuple[Drafted, str]]
    uses_words: str
    curve: Curve
    weeks: int
    promises: list[Promise]
    lots: list[LotLine]
    old_lots: list[LotLine]
    facts: list[tuple[str, str]]
    rgb: str
    between: Between
    turnover: list[tuple[str, str]]
    choices: tuple[int, ...] = field(default=WEEKS)


def item_page(item: Item, stock: Stock, now: datetime, studio: Studio, query: QueryDict) -> ItemPage:
    """`stock` as read from now on: what is free, left, promised and lacking are all told from the same lots and
    lines."""
    tomorrow = now + timedelta(days=1)
    detail = availability.free_detail([item.pk], now, tomorrow, now=now, stock={item.pk: stock})[item.pk]
    to_buy = _to_buy(item, detail, now)
    drafts = drafts_of([item.pk]).get(item.pk, ())
    act, href = _act(item, to_buy, drafts)
    out = sum(one.out for one in ledger.sums([item.pk]).values())
    lots = lot_lines(item, stock, now, studio.currency)
    today = availability.utc_day(now)
    expected = [x for x in lots if x.expected and x.lot.arrives_on >= today]
    late = [x for x in lots if x.expected and x.lot.arrives_on < today]
    promised = stocking.live_lines(item=item, now=now)
    weeks = whole(query.get("weeks", ""), otherwise=USUAL_WEEKS)
    weeks = weeks if weeks in WEEKS else USUAL_WEEKS
    return ItemPage(
        detail=detail,
        verdict=_verdict(item, stock, now, detail, to_buy, drafts) or _none(detail, out),
        verdict_kind="warn" if detail.short else "no" if detail.overdue else "",
        act=act,
        act_href=href,
        to_buy=to_buy,
        out=out,
        unticked=_unticked(stock, now),
        if_it_arrives=_if_it_arrives(stock, detail.free, now, tomorrow, now),
        expected_words=", ".join(f"{x.lot.quantity:,} on {day_words(x.lot.arrives_on)}" for x in expected),
        late_words=", ".join(f"{x.lot.quantity:,}, due on {day_words(x.lot.arrives_on)}" for x in late),
        drafts=[(one, drafted_words(item, one.packs)) for one in drafts],
        uses_words=uses_words(stock, now),
        curve=curve_of(stock, now, weeks=weeks),
        weeks=weeks,
        promises=promise_lines(promised, stocking.lacking_of(stock, now)),
        lots=[x for x in lots if x.left],
        old_lots=[x for x in lots if not x.left],
        facts=facts_of(item, studio),
        rgb=item.latex.rgb if item.kind == Item.Kind.LATEX else "",
        between=_between(item, stock, now, query),
        turnover=turnover_words(item, studio, rates_from_plain(studio.rates).spares_share, now),
    )


def _unticked(stock: Stock, now: datetime) -> tuple[str, ...]:
    """What lies in the store by the ledger and is not to be had: of what is used up, for events that have begun."""
    if stock.returnable:
        return ()
    began = [d for d in stock.wear if d.starts <= now]
    served = balance.serve(stock.supplies, began)
    kept = sum(s.quantity - left for s, left in zip(stock.supplies, served.left, strict=True) if not s.expected)
    theirs = zip(began, served.lacking, strict=True)
    over = min(kept, sum(demand.quantity - lacks for demand, lacks in theirs if demand.ends <= now))
    words = {
        "events under way, not ticked as picked": kept - over,
        "events that are over, neither picked nor counted back": over,
    }
    return tuple(f"{n:,} of them {'is' if n == 1 else 'are'} for {of}" for of, n in words.items() if n)


def _to_buy(item: Item, detail: Detail, now: datetime) -> ToBuy | None:
    if not detail.short or detail.short_from is None:
        return None
    line = ShortLine(item.pk, detail.short, 0, detail.short)
    # Days as the buy list and the check count them, so that all three name one day to order by.
    needed = availability.utc_day(detail.short_from)
    return packs_to_buy([line], needed_on=needed, today=availability.utc_day(now))[0]


def _to_order(to_buy: ToBuy, drafts: tuple[Drafted, ...]) -> int:
    """Packs that are in no draft yet."""
    return max(0, to_buy.packs - sum(one.packs for one in drafts))


def _verdict(
    item: Item, stock: Stock, now: datetime, detail: Detail, to_buy: ToBuy | None, drafts: tuple[Drafted, ...]
) -> str:
    if to_buy and detail.short_from:
        words = f"{detail.short:,} short from {day_words(detail.short_from)}."
        if to_buy.too_late:
            return f"{words} {_too_late(item, stock, now)}"
        what = f"Order {_packs(item, rest)}" if (rest := _to_order(to_buy, drafts)) else f"Send {drafts[0].number}"
        return f"{words} {what} by {day_words(to_buy.order_by)}."
    if detail.overdue:
        return f"An order that was due on {day_words(detail.overdue)} is not here, so it counts for nothing."
    return ""


def _too_late(item: Item, stock: Stock, now: datetime) -> str:
    """For all that is short, or for what of it, and by when to order the rest."""
    words = f"An order takes {desk.plural(item.lead_days, 'day,days')}, so it would come too late"
    lead, lacking = timedelta(days=item.lead_days), stocking.lacking_of(stock, now)
    starts = {d.line_id: d.starts for d in stock.promised if d.line_id in lacking}
    earliest = availability.utc_day(now) + lead
    late = {line for line, moment in starts.items() if availability.utc_day(moment) < earliest}
    if not (rest := starts.keys() - late):
        return f"{words}: borrow, swap or ask for speed."
    # Two events that share one shortage of a returnable lack the same pieces, so theirs are not added up.
    both = max if item.returnable else sum
    lost, had = (both(lacking[line] for line in lines) for lines in (late, rest))
    first = min(starts[line] for line in rest)
    by = day_words(availability.utc_day(first) - lead)
    return (
        f"{words} for {lost:,}: borrow, swap or ask for speed. "
        f"For the {had:,} short from {day_words(first)} it is in time if it is sent by {by}."
    )


def _none(detail: Detail, out: int) -> str:
    some = detail.in_store or out or detail.expected or detail.due
    return "" if some else "None here and none on order."


def _packs(item: Item, packs: int) -> str:
    return f"{packs:,}" if item.pack_size == 1 else desk.plural(packs, "pack,packs")


def _act(item: Item, to_buy: ToBuy | None, drafts: tuple[Drafted, ...]) -> tuple[str, str]:
    if not item.active:
        return "", ""
    if to_buy and (rest := _to_order(to_buy, drafts)):
        name = f" of {item.latex.colour}" if item.kind == Item.Kind.LATEX else ""
        return f"Order {_packs(item, rest)}{name}", order_address(item.pk, rest)
    return send_act(drafts) if to_buy else ("Add a lot", reverse("inventory:lot-new", args=[item.pk]))


def uses_words(stock: Stock, now: datetime) -> str:
    """Of what wears out: how many uses are left, and when what is promised will have used them up."""
    if not stock.lasts:
        return ""
    lots = [s for s in stock.uses if s.spoils > now and not s.expected]
    left = sum(s.quantity for s in lots)
    coming = sorted((d for d in stock.wear if d.ends > now), key=lambda d: d.starts)
    words = f"{left:,} uses left in all"
    if not coming:
        return f"{words}, none of them promised"
    taken = sum(d.quantity for d in coming)
    lacking = balance.serve(lots, coming).lacking
    over = next((d for d, lack in zip(coming, lacking, strict=True) if lack), None)
    if over is None and taken >= left:
        over = coming[-1]
    if over is not None:
        return f"{words}; what is promised wears them out about {day_words(over.starts)}"
    return f"{words}; {taken:,} of them promised, so {left - taken:,} remain after {day_words(coming[-1].ends)}"


def _between(item: Item, stock: Stock, now: datetime, query: QueryDict) -> Between:
    if not spans.asked(query):
        return Between(SpanForm(now=now))
    form = SpanForm(query, now=now)
    if not form.is_valid():
        return Between(form)
    starts, ends = form.span
    free = stock.free(starts, ends)
    when = spans.moments_words(starts, ends)
    link = spans.span_query(starts, ends)
    if free:
        chip, small = ("ok", "Free"), _tightest(stock, free, starts, ends)
        if words := _if_it_arrives(stock, free, starts, ends, now):
            chip, small = ("wait", "If it arrives"), f"{words[:1].upper()}{words[1:]}. {small}"
        return Between(form, chip, f"Yes: {free:,} free, {when}.", small, link)
    later = first_later(stock, 1, starts, ends)
    small = f"Some are free for as long from {day_words(later)} on." if later else "Nor for as long within eight weeks."
    return Between(form, ("no", "None free"), f"No: none is free, {when}.", small, link)


def _if_it_arrives(stock: Stock, free: int, starts: datetime, ends: datetime, now: datetime) -> str:
    then = on_order_of(stock, starts, ends, now)
    return on_order_words(free - then.sure, then.due) if then else ""


def _tightest(stock: Stock, free: int, starts: datetime, ends: datetime) -> str:
    if not stock.returnable:
        return "Every later promise is kept with that."
    moment, lowest = min(stock.levels(starts, ends), key=lambda level: level[1])
    if lowest > free:
        return "More are in the store, but they wear out or spoil before the end."
    most = max(level for _, level in stock.levels(starts, ends))
    if most == lowest:
        return "The same all the time."
    return f"Fewest on {day_words(moment)}; at other times up to {most:,}."
