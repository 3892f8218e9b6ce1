"""A gap in words: how it stands, when it would be free, and each thing that would close it, with what to do."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from django.urls import reverse

from decor.studio.templatetags.desk import money_words, plural
from inventory.expecting import on_order_words
from inventory.gaps import Gap, Giver, Swap
from inventory.models import Item, Latex
from inventory.ordering import Drafted
from inventory.services import ToBuy
from inventory.shown import Chip, capital, day_words, span_words


@dataclass(frozen=True)
class Closer:
    """One way to close a gap. `beside` are two colours to be held side by side; `chip` where it needs one."""

    how: str
    says: str
    small: str = ""
    href: str = ""
    do: str = ""
    chip: Chip | None = None
    beside: tuple[str, str] | None = None


@dataclass(frozen=True)
class GapLine:
    gap: Gap
    name: str
    says: str
    chip: Chip
    rgb: str
    closers: tuple[Closer, ...] = ()

    @property
    def item(self) -> Item:
        return self.gap.item


def name_of(item: Item) -> str:
    return capital(item.name)


def rgb_of(item: Item) -> str:
    latex = item if isinstance(item, Latex) else getattr(item, "latex", None) if item.kind == Item.Kind.LATEX else None
    return latex.rgb if latex else ""


Instead = Callable[[Gap, Swap], str]


@dataclass(frozen=True)
class Asker:
    """Where an order leads back to, and which event lacks what is ordered."""

    back: str = ""
    called: str = ""
    day: date | None = None


def gap_line(gap: Gap, currency: str, *, asker: Asker | None = None, instead: Instead | None = None) -> GapLine:
    """`instead` gives the address of the same list with a swap in it."""
    says, chip = f"{gap.asked:,} asked, {gap.free:,} free", ("ok", "Free")
    if gap.on_order and gap.if_it_arrives:
        says, chip = f"{says}, {on_order_words(gap.if_it_arrives, gap.on_order.due)}", ("wait", "If it arrives")
    if not gap.short:
        return GapLine(gap, name_of(gap.item), says, chip, rgb_of(gap.item))
    return GapLine(
        gap,
        name_of(gap.item),
        says,
        ("warn", f"{gap.short:,} short"),
        rgb_of(gap.item),
        closers_of(gap, currency, asker or Asker(), instead),
    )


def closers_of(gap: Gap, currency: str, asker: Asker, instead: Instead | None = None) -> tuple[Closer, ...]:
    found = [_bought(gap, gap.buy, currency, asker)] if gap.buy and gap.to_order else []
    found += [_drafted(gap, one) for one in gap.drafts]
    found += [_swapped(gap, swap, instead) for swap in gap.swaps]
    if gap.other_colour:
        found.append(_other_colour(gap, gap.other_colour, instead))
    if gap.later:
        days = f"from {day_words(gap.later)}, for as long"
        small = "if what is on order arrives" if gap.later_if else "nothing to buy then"
        found.append(Closer("Later", f"All {gap.asked:,} are free {days}", small))
    elif gap.arrives and gap.buy and gap.buy.too_late:
        found.append(
            Closer("Later", f"With an order today, from {day_words(gap.arrives)}", "otherwise not within eight weeks")
        )
    found += [_given(giver) for giver in gap.givers]
    if gap.more_givers:
        found.append(Closer("Ask", f"{plural(gap.more_givers, 'more event holds,more events hold')} some of it"))
    return tuple(found)


def order_address(item_id: int, packs: int, asker: Asker | None = None, *, short: int = 0) -> str:
    """Where so many packs are put into a draft order; the event lacks `short` pieces."""
    asked: dict[str, object] = {"packs": packs}
    if asker and asker.called and short:
        asked |= {"for": asker.called, "n": short} | ({"day": asker.day.isoformat()} if asker.day else {})
    if asker and asker.back:
        asked["to"] = asker.back
    return f"{reverse('inventory:item-order', args=[item_id])}?{urlencode(asked)}"


def send_act(drafts: Sequence[Drafted]) -> tuple[str, str]:
    """What is next where all that is short is in drafts: the words, and where that is done."""
    first = drafts[0]
    return f"Send order {first.number}", reverse("inventory:order-send", args=[first.order_id])


def order_words(item: Item, packs: int) -> str:
    """1 pack of 5 in sky; 2 more of Pole, 2 m"""
    if item.pack_size == 1:
        return f"{packs:,} more of {item.name}"
    return f"{plural(packs, 'pack,packs')} of {item.name}"


def drafted_words(item: Item, packs: int) -> str:
    """2 packs of 100; 3 pieces"""
    size = item.pack_size
    return plural(packs, "piece,pieces") if size == 1 else f"{plural(packs, 'pack,packs')} of {size:,}"


def _drafted(gap: Gap, draft: Drafted) -> Closer:
    says = f"{drafted_words(gap.item, draft.packs)} in draft order {draft.number}"
    small, chip = "counts once it is sent", None
    if gap.buy and not gap.to_order:
        late, day = gap.buy.too_late, day_words(gap.buy.order_by)
        small += f"; it had to be sent by {day}" if late else f"; last day to send it: {day}"
        chip = ("no", "Too late") if late else None
    return Closer("Draft", says, small, reverse("inventory:order", args=[draft.order_id]), "See the draft", chip)


def _bought(gap: Gap, buy: ToBuy, currency: str, asker: Asker) -> Closer:
    packs, size = gap.to_order, gap.item.pack_size
    says = f"{packs:,}" if size == 1 else f"{plural(packs, 'pack,packs')} of {size:,}"
    says = f"{says}{' more' if gap.drafts else ''}, {money_words(packs * gap.item.pack_price, currency)}"
    says += f", from {buy.supplier}" if buy.supplier else ""
    href, do = order_address(buy.item_id, packs, asker, short=gap.short), "Order it"
    if not buy.too_late:
        small = f"last day to order: {day_words(buy.order_by)}; delivery takes {plural(gap.item.lead_days, 'day,days')}"
        return Closer("Buy", says, small, href, do)
    here = f", and would be here on {day_words(gap.arrives)}" if gap.arrives else ""
    small = f"too late: it had to be ordered by {day_words(buy.order_by)}{here}"
    return Closer("Buy", says, small, href, do, ("no", "Too late"))


def _swapped(gap: Gap, swap: Swap, instead: Instead | None) -> Closer:
    one = swap.candidate
    chip: Chip | None = None if swap.enough else ("warn", "Not enough")
    beside = (rgb_of(gap.item), rgb_of(one.item)) if one.difference is not None else None
    says = f"{name_of(one.item)}: {one.wanted:,} needed, {swap.free:,} free"
    small = one.says if one.difference is None else f"{one.says} (CIEDE2000 {one.difference:.1f})"
    href = instead(gap, swap) if instead else ""
    return Closer("Instead", says, small, href, "Check with it" if href else "", chip, beside)


def _other_colour(gap: Gap, swap: Swap, instead: Instead | None) -> Closer:
    one = swap.candidate
    chip: Chip | None = None if swap.enough else ("warn", "Not enough")
    says = f"No near colour is free; the nearest is {one.item.name}, {one.says}"
    small = f"{one.wanted:,} needed, {swap.free:,} free (CIEDE2000 {one.difference:.1f}); ask the client first"
    href = instead(gap, swap) if instead else ""
    beside = (rgb_of(gap.item), rgb_of(one.item))
    return Closer("Other", says, small, href, "Check with it" if href else "", chip, beside)


def _given(giver: Giver) -> Closer:
    standing = "on hold" if giver.on_hold else "confirmed"
    small = f"{standing}, {span_words(giver.starts, giver.ends)}; ask first, nothing is taken from it here"
    return Closer("Ask", f"{giver.label} has {giver.quantity:,}", small, giver.href, "See it" if giver.href else "")
