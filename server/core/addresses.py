"""The address that a request came from: used to slow down guessing, never stored in clear."""

import ipaddress
from typing import Final

from django.conf import settings
from django.http import HttpRequest

# What one customer is given of IPv6 at least (common practice): whoever has one address has all of these.
OF_ONE_CUSTOMER: Final = 64


def client_address(request: HttpRequest) -> str:
    """The peer's address, or the one that the outermost trusted proxy saw; what lies before that could be invented."""
    hops = [hop.strip() for hop in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",") if hop.strip()]
    if settings.TRUSTED_PROXIES and len(hops) >= settings.TRUSTED_PROXIES:
        return _counted_as(hops[-settings.TRUSTED_PROXIES])
    return _counted_as(str(request.META.get("REMOTE_ADDR") or ""))


def _counted_as(hop: str) -> str:
    """What stands for whoever is at an address: IPv4 as it is, of IPv6 the net, and never a port."""
    try:
        address = ipaddress.ip_address(_without_port(hop))
    except ValueError:
        return hop
    if isinstance(address, ipaddress.IPv4Address):
        return str(address)
    if address.ipv4_mapped:
        return str(address.ipv4_mapped)
    return str(ipaddress.ip_network((int(address), OF_ONE_CUSTOMER), strict=False))


def _without_port(hop: str) -> str:
    """Some proxies write `192.0.2.1:4711`, or `[2001:db8::1]:4711`."""
    if hop.startswith("["):
        return hop[1:].partition("]")[0]
    return hop.partition(":")[0] if hop.count(":") == 1 else hop
