"""An item's turnover as a decorator would say it."""

from datetime import datetime

from decor.studio.models import Studio
from inventory.models import Item
from inventory.turnover import ENOUGH, Turnover, burst_share, stepped, turnover


def hundredths(share: float) -> str:
    """
    >>> hundredths(0.02), hundredths(0.025)
    ('2', '2.5')
    """
    return f"{share * 100:.1f}".removesuffix(".0")


def turnover_words(item: Item, studio: Studio, spares_share: float, now: datetime) -> list[tuple[str, str]]:
    """[(what is told, what it stands on)]; nothing where nothing ever left."""
    found = turnover([item.pk], now=now).get(item.pk)
    if found is None:
        return []
    told = [_pace(item, found)]
    if item.kind == Item.Kind.LATEX:
        told.append(_burst(found, spares_share))
    return told


def _pace(item: Item, found: Turnover) -> tuple[str, str]:
    months = round(found.months)
    over = f"{found.gone:,} in the last {f'{months} months' if months > 1 else 'month'}"
    what = "lost, thrown away or worn out" if item.returnable else "leave for good"
    if found.per_month >= 1:
        return f"About {found.per_month:,.0f} a month {what}", over
    return f"Less than one a month {what}", over


def _burst(found: Turnover, spares_share: float) -> tuple[str, str]:
    usual = hundredths(spares_share)
    if found.tried < ENOUGH:
        few = f"{found.tried:,} counted back so far" if found.tried else "no event counted them back yet"
        return "Too few to tell how many burst", f"{few}; estimates take the studio's {usual} % of spares"
    share = stepped(burst_share(used=found.used, burst=found.burst, spares_share=spares_share))
    counted = f"{found.burst:,} of {found.tried:,} burst in events that were counted back"
    return f"{hundredths(share)} of 100 burst", f"{counted}; estimates take their spares from that"
