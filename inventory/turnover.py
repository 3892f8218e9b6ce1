"""What the ledger says of an item over the last two years: how many a month, and how many of a hundred burst."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Min, Q, QuerySet, Sum

from inventory.models import Item, Movement

K = Movement.Kind
WINDOW = timedelta(days=730)
MONTH_DAYS = 365.25 / 12
PRIOR_BALLOONS = 200
"""How many balloons the studio's usual share of spares weighs against what was counted (studio default, no source)."""
ENOUGH = 200
"""So many must have been counted before their own bursts are believed (studio default, no source)."""
STEP = 0.005
"""Shares are told to half a balloon of a hundred, so that an estimate does not grow old with every event."""
GONE = (K.USED, K.BURST, K.THROWN, K.LOST, K.WORN)


@dataclass(frozen=True)
class Turnover:
    """Of one item within the window. `gone` left for good in whatever way, `used` and `burst` only in events that were
    counted back by hand; `months` since it first moved, at most the window's, at least one."""

    gone: int = 0
    used: int = 0
    burst: int = 0
    months: float = 1.0

    @property
    def per_month(self) -> float:
        return self.gone / self.months

    @property
    def tried(self) -> int:
        return self.used + self.burst


def burst_share(*, used: int, burst: int, spares_share: float) -> float:
    """The share of balloons tried that burst: the mean of a beta distribution whose prior says the studio's share of
    spares with the weight of PRIOR_BALLOONS. s spares for one that is needed are s / (1 + s) of those tried.

    >>> round(burst_share(used=0, burst=0, spares_share=0.04), 6) == round(0.04 / 1.04, 6)
    True
    >>> round(burst_share(used=1840, burst=37, spares_share=0.04), 4)
    0.0215
    """
    if used < 0 or burst < 0:
        raise ValueError("used and burst must not be below nought")
    if not 0.0 <= spares_share <= 1.0:
        raise ValueError("spares_share must be from 0 to 1")
    prior = spares_share / (1.0 + spares_share)
    return (PRIOR_BALLOONS * prior + burst) / (PRIOR_BALLOONS + used + burst)


def counted_by_hand() -> QuerySet[Movement, int | None]:
    """Reservations of which somebody said what became of things that are used up: some came back, burst, were thrown
    away or lost. Where nobody did, all went down as used, which says nothing about bursts."""
    told = Movement.objects.filter(
        kind__in=[K.BACK, K.BURST, K.THROWN, K.LOST], item__returnable=False, reservation__isnull=False
    )
    return told.order_by().values_list("reservation_id", flat=True)


def turnover(item_ids: Iterable[int], *, now: datetime) -> dict[int, Turnover]:
    """{item id: its turnover}, only of items of which something left, in one query."""
    since, by_hand = now - WINDOW, Q(reservation__in=counted_by_hand())
    within = Q(at__gt=since, at__lte=now)
    rows = (
        Movement.objects.filter(item__in=set(item_ids))
        .order_by()
        .values("item_id")
        .annotate(
            first=Min("at"),
            gone=Sum("out", filter=within & Q(kind__in=GONE), default=0),
            thrown=Sum("store", filter=within & Q(kind__in=[K.THROWN, K.LOST]), default=0),
            used=Sum("out", filter=within & by_hand & Q(kind=K.USED), default=0),
            burst=Sum("out", filter=within & by_hand & Q(kind=K.BURST), default=0),
        )
    )
    found = {}
    for row in rows:
        months = max(1.0, min(WINDOW, now - row["first"]).days / MONTH_DAYS)
        one = Turnover(-row["gone"] - row["thrown"], -row["used"], -row["burst"], months)
        if one.gone > 0:
            found[row["item_id"]] = one
    return found


def known_burst(*, now: datetime, spares_share: float) -> dict[int, float]:
    """{item id: share of those tried that burst}, of all balloons of which enough were counted, in one query."""
    rows = (
        Movement.objects.filter(
            item__kind=Item.Kind.LATEX,
            kind__in=[K.USED, K.BURST],
            at__gt=now - WINDOW,
            at__lte=now,
            reservation__in=counted_by_hand(),
        )
        .order_by()
        .values("item_id")
        .annotate(tried=Sum("out"), burst=Sum("out", filter=Q(kind=K.BURST), default=0))
    )
    return {
        row["item_id"]: stepped(
            burst_share(used=row["burst"] - row["tried"], burst=-row["burst"], spares_share=spares_share)
        )
        for row in rows
        if -row["tried"] >= ENOUGH
    }


def stepped(share: float) -> float:
    """
    >>> stepped(0.0215), stepped(0.001)
    (0.02, 0.005)
    """
    return max(STEP, round(round(share / STEP) * STEP, 4))
