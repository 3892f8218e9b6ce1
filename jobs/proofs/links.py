"""A proof link's secret. Derived from the row and the studio's key, so that it can be copied again; only its hash
is kept, so that a stolen table opens nothing."""

import hashlib
import hmac
from base64 import urlsafe_b64encode

from django.conf import settings
from django.urls import reverse
from django.utils.crypto import salted_hmac

from jobs.proofs.models import ProofLink

SALT = "jobs.proofs.link"


def token_hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def link_token(link: ProofLink) -> str:
    """256 bits: 43 characters that need no escaping in an address."""
    digest = salted_hmac(SALT, f"{link.pk}:{link.nonce}", algorithm="sha256").digest()
    return urlsafe_b64encode(digest).decode().rstrip("=")


def link_address(link: ProofLink) -> str:
    """The whole address; empty when the studio's secret key was changed since: the link still opens by its hash,
    but can't be spelt out again."""
    token = link_token(link)
    if not hmac.compare_digest(token_hash(token), link.token_hash):
        return ""
    return settings.SITE_URL + reverse("jobs:proof", args=[token])


def link_find(token: str) -> ProofLink | None:
    hashed = token_hash(token)
    found = ProofLink.objects.select_related("event__venue").filter(token_hash=hashed).first()
    return found if found and hmac.compare_digest(found.token_hash, hashed) else None
