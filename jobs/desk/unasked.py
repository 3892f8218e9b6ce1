"""What events would need of the store to which nothing is promised yet: an enquiry, an offer that is out, a hold that
lapsed. The buy list counts it where somebody asks for that: what takes two weeks to come has to be ordered before the
client says yes, and whether it is worth the risk is the studio's to say."""

from collections import Counter
from collections.abc import Iterable

from django.db.models import OuterRef, Subquery
from django.urls import reverse
from django.utils import timezone

from inventory import ledger
from inventory.unpromised import Need
from jobs.designs.catalogue import Catalogue
from jobs.desk.unmet import FOLLOWING, alive
from jobs.estimates.inputs import background_now
from jobs.estimates.models import Estimate
from jobs.estimates.needs import StockNeed, needs_of_result
from jobs.estimates.store import Store
from jobs.events.models import Event
from jobs.events.shelf import event_stock_span


def needs() -> list[Need]:
    """For the store, by each event's newest estimate, in as many queries however many events there are."""
    known = Estimate.objects.filter(event=OuterRef("pk"), result__isnull=False)
    rows = Event.objects.filter(stage__in=FOLLOWING, strike__gt=timezone.now()).select_related("reservation", "venue")
    rows = rows.annotate(newest=Subquery(known.values("pk")[:1])).filter(newest__isnull=False)
    events = {event.pk: event for event in rows if not alive(event) and not _settled(event)}
    found = Estimate.objects.filter(pk__in=[event.newest for event in events.values()])
    estimates = {one.event_id: one for one in found} if events else {}
    if not estimates:
        return []
    background = background_now()
    wanted = {pk: _needs(one, background.catalogue, background.store) for pk, one in estimates.items()}
    there = ledger.on_hand({choice.id for of_it in wanted.values() for need in of_it for choice in need.choices})
    hours = background.studio.turn_round_hours
    return [need for pk, of_it in wanted.items() for need in _of_event(events[pk], of_it, there, hours)]


def _settled(event: Event) -> bool:
    return event.reservation is not None and event.reservation.state == event.reservation.State.SETTLED


def _needs(estimate: Estimate, catalogue: Catalogue, store: Store) -> list[StockNeed]:
    """What can be named: balloons whose colour is open can be bought by nobody."""
    found = needs_of_result(estimate.result or {}, catalogue, store)
    return [need for need in found if need.choices and (need.named or need.what != "latex")]


def _of_event(event: Event, needs: Iterable[StockNeed], there: dict[int, int], turn_round_hours: int) -> list[Need]:
    wanted: Counter[int] = Counter()
    for need in needs:
        # Of several that serve alike, the one of which the studio has most.
        wanted[max(need.choices, key=lambda choice: (there[choice.id], -choice.id)).id] += need.quantity
    span = event_stock_span(event, turn_round_hours)
    label, href = f"{event.number} {event.title}", reverse("jobs:event-stock", args=[event.pk])
    return [Need(pk, n, span.starts, span.ends, label, href, waits=False) for pk, n in sorted(wanted.items())]
