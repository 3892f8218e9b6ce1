import hashlib
import io
import logging
import re
import string
from datetime import timedelta

import pytest
from django.conf import settings
from django.core import serializers
from django.utils import timezone

from decor.studio.logs import HidingFormatter, hide_in
from jobs.events.models import Event
from jobs.proofs.links import link_address, link_find
from jobs.proofs.models import LINK_LIFE, ProofLink
from jobs.proofs.services import link_token, proof_link_make, proof_link_revoke


def test_a_token_is_long_and_fits_an_address(link):
    token = link_token(link)
    assert re.fullmatch(r"[A-Za-z0-9_-]{43}", token), "43 characters of 6 bits hold 256"
    assert link_address(link) == f"{settings.SITE_URL}/p/{token}/"


def test_tokens_share_nothing(event):
    tokens = [link_token(proof_link_make(event=event, recipient=f"r{n}")) for n in range(200)]
    assert len(set(tokens)) == 200
    alphabet = string.ascii_letters + string.digits + "-_"
    for at in range(42):
        seen = {token[at] for token in tokens}
        # 200 draws from 64: that fewer than 40 differ has a chance below 1e-20.
        assert len(seen) >= 40 and seen <= set(alphabet)


def test_the_token_depends_on_the_secret_key_the_row_and_the_nonce(link, settings):
    token = link_token(link)
    assert link_token(ProofLink(pk=link.pk + 1, nonce=link.nonce)) != token
    assert link_token(ProofLink(pk=link.pk, nonce=link.nonce + "x")) != token
    settings.SECRET_KEY = "another key of the studio"
    assert link_token(link) != token
    assert link_address(link) == "", "an address that would not open is not shown"
    assert link_find(token) == link, "what was sent out still opens"


def test_only_the_hash_is_kept(link):
    token = link_token(link)
    row = serializers.serialize("json", ProofLink.objects.all())
    assert token not in row
    assert ProofLink.objects.get().token_hash == hashlib.sha256(token.encode()).hexdigest()
    assert link_find(token) == link
    assert link_find(ProofLink.objects.get().token_hash) is None
    assert link_find(token[:-1]) is None and link_find("") is None


def test_a_link_lives_until_two_weeks_after_the_event_wherever_that_moves(link):
    ends = link.event.ends
    second = timedelta(seconds=1)
    assert timedelta(days=14) == LINK_LIFE
    assert link.lives(ends + LINK_LIFE - second) and not link.lives(ends + LINK_LIFE)
    assert link in ProofLink.objects.live(ends + LINK_LIFE - second)
    assert link not in ProofLink.objects.live(ends + LINK_LIFE)
    Event.objects.update(ends=ends + timedelta(days=30), strike=ends + timedelta(days=31))
    assert link_find(link_token(link)).lives(ends + LINK_LIFE)


def test_a_revoked_link_is_dead_and_its_neighbour_is_not(link):
    other = proof_link_make(event=link.event, recipient="Ben Rule")
    proof_link_revoke(link=link)
    now = timezone.now()
    assert not link_find(link_token(link)).lives(now)
    assert link_find(link_token(other)).lives(now)
    assert list(ProofLink.objects.live(now)) == [other]


@pytest.mark.parametrize("message", ["GET /p/{} 200", "Not Found: /p/{}approve/"])
def test_the_log_does_not_hold_the_token(link, message):
    token = link_token(link)
    record = logging.LogRecord("django.request", logging.WARNING, "", 0, message.format(token + "/"), (), None)
    written = HidingFormatter().format(record)
    assert token not in written and "/p/" in written


def test_neither_a_traceback_nor_a_servers_own_handler_writes_it(link):
    token, out = link_token(link), io.StringIO()
    log = logging.getLogger("gunicorn.error")
    handler = logging.StreamHandler(out)
    handler.setFormatter(logging.Formatter("[%(process)d] %(message)s"))
    log.addHandler(handler)
    try:
        hide_in("gunicorn.error")
        hide_in("gunicorn.error")
        try:
            raise RuntimeError(f"no file for /p/{token}/")
        except RuntimeError:
            log.exception("Error handling request %s", f"/p/{token}/?code=Zk3_x9aaQw1Z")
    finally:
        log.removeHandler(handler)
    written = out.getvalue()
    assert "RuntimeError: no file for /p/…/" in written and "request /p/…/?code=…" in written
    assert token not in written and "Zk3_x9aaQw1Z" not in written
