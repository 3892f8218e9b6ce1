"""How often one network address may ask for proof links. Counting is the one thing that a GET of a link writes; the
table holds nothing of any event, and no address in the clear."""

import ipaddress
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.crypto import salted_hmac

from jobs.proofs.models import ProofVisits

MOST_ASKED = 30
ASKED_WINDOW = timedelta(minutes=1)
MOST_BAD = 10
BAD_WINDOW = timedelta(minutes=10)
FORGET_AFTER = timedelta(days=1)


def _key(ip: str | None) -> str:
    return salted_hmac("jobs.proofs.visits", _network(ip), algorithm="sha256").hexdigest()


def _network(ip: str | None) -> str:
    """Of IPv6 the /64: whoever has one address of it has them all."""
    try:
        address = ipaddress.ip_address(ip or "")
    except ValueError:
        return ip or ""
    if address.version == 4:
        return str(address)
    if address.ipv4_mapped:
        return str(address.ipv4_mapped)
    return str(ipaddress.ip_network((address, 64), strict=False))


def _row(ip: str | None, now: datetime) -> ProofVisits:
    """The locked row, with windows that are over begun anew. Call inside a transaction."""
    key = _key(ip)
    _, new = ProofVisits.objects.get_or_create(pk=key, defaults={"window": now, "bad_window": now})
    if new:
        ProofVisits.objects.filter(window__lt=now - FORGET_AFTER, bad_window__lt=now - FORGET_AFTER).delete()
    row = ProofVisits.objects.select_for_update().get(pk=key)
    if now - row.window >= ASKED_WINDOW:
        row.window, row.asked = now, 0
    if now - row.bad_window >= BAD_WINDOW:
        row.bad_window, row.bad = now, 0
    return row


@transaction.atomic
def visit_count(*, ip: str | None, now: datetime) -> timedelta:
    """Counts one request; how long this address must wait, zero when it may pass."""
    row = _row(ip, now)
    row.asked += 1
    row.save()
    waits = [timedelta(0)]
    if row.asked > MOST_ASKED:
        waits.append(row.window + ASKED_WINDOW - now)
    if row.bad >= MOST_BAD:
        waits.append(row.bad_window + BAD_WINDOW - now)
    return max(waits)


def guesser_wait(*, ip: str | None, now: datetime) -> timedelta:
    """How long an address that guessed too often must still wait. Looks without counting: a page's own pictures
    would else use up its reader's requests."""
    row = ProofVisits.objects.filter(pk=_key(ip), bad__gte=MOST_BAD).first()
    return max(timedelta(0), row.bad_window + BAD_WINDOW - now) if row else timedelta(0)


@transaction.atomic
def visit_bad(*, ip: str | None, now: datetime) -> None:
    row = _row(ip, now)
    row.bad += 1
    row.save()
