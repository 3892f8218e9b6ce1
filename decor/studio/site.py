"""The one address that people use: what it may be, and what follows from it. Read by the settings, so it knows
nothing of them."""

import ipaddress
from dataclasses import dataclass
from urllib.parse import urlsplit

PORTS = {"http": 80, "https": 443}
# Names that only ever lead to this machine or to the network it is on.
OWN_NAMES = (".localhost", ".local", ".home.arpa", ".internal")
# Shared by carriers and by private overlays of networks (RFC 6598); the library does not count it as private.
SHARED = ipaddress.ip_network("100.64.0.0/10")


@dataclass(frozen=True)
class Site:
    """`url` as a browser says it in Origin: lower case, without a usual port. `host` as Django compares it."""

    url: str
    host: str
    https: bool


def site_of(text: str) -> Site:
    """Raises ValueError in words for whoever set it.

    >>> site_of("https://Desk.Example:443/")
    Site(url='https://desk.example', host='desk.example', https=True)
    >>> site_of("http://[::1]:8000").host
    '[::1]'
    """
    try:
        parts = urlsplit(text.strip().rstrip("/"))
        name, port = parts.hostname, parts.port
    except ValueError as broken:
        raise ValueError(f"SITE_URL can't be read: {broken}") from broken
    if parts.scheme not in PORTS or not name:
        raise ValueError(f"SITE_URL must be a full address such as https://desk.example, not {text!r}")
    if "*" in name:
        raise ValueError("SITE_URL must name one host; a wildcard would let anybody answer for it")
    if parts.path or parts.query or parts.fragment or parts.username is not None:
        raise ValueError("SITE_URL is only https://, a host and perhaps a port: the studio has that host for itself")
    if parts.scheme == "http" and not on_own_network(name):
        raise ValueError(
            f"SITE_URL: http://{name} would send passwords in the clear over the internet. Put a proxy with a "
            "certificate in front and give its https address; http is for this machine and for private networks"
        )
    host = f"[{name}]" if ":" in name else name
    shown = host if port in (None, PORTS[parts.scheme]) else f"{host}:{port}"
    return Site(f"{parts.scheme}://{shown}", host, parts.scheme == "https")


def on_own_network(name: str) -> bool:
    """Whether this name or number can't be reached from outside.

    >>> [on_own_network(name) for name in ("127.0.0.1", "192.168.1.20", "fe80::1", "localhost", "shed.local")]
    [True, True, True, True, True]
    >>> [on_own_network(name) for name in ("desk.example", "8.8.8.8", "2001:4860::1", "0.0.0.0")]
    [False, False, False, False]
    """
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return name == "localhost" or name.endswith(OWN_NAMES)
    if address.is_unspecified:
        return False
    return address.is_private or (address.version == 4 and address in SHARED)
