"""Says where a request came from, for the trail: which door, which address."""

from collections.abc import Callable
from ipaddress import IPv4Address, ip_address, ip_network

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from clinic.audit import trail
from clinic.audit.models import Origin

API = "/api/"
ONE_CALLER = 64  # bits of an IPv6 address; the others are the caller's own to choose (RFC 4291 §2.5.1)


def address_of(request: HttpRequest) -> str:
    """The other end's address.

    Behind the clinic's own proxies (settings.PROXIES of them) it is the one that the farthest of them added, counted
    from the right: whatever stands further left was sent along by the other end, and may be a lie. What is no address
    is not believed.
    """
    near = str(request.META.get("REMOTE_ADDR", ""))[:45]
    if not settings.PROXIES:
        return near
    hops = [hop.strip() for hop in request.headers.get("X-Forwarded-For", "").split(",")]
    farthest = hops[-settings.PROXIES] if len(hops) >= settings.PROXIES else ""
    try:
        return str(ip_address(farthest))
    except ValueError:
        return near


def counted_as(address: str) -> str:
    """Under what an address is counted: IPv4 one by one, also where it comes written as IPv6; IPv6 by its network of 64
    bits, since whoever has one address of it has all. What is no address counts as it is written."""
    try:
        known = ip_address(address)
    except ValueError:
        return address
    if isinstance(known, IPv4Address):
        return str(known)
    if known.ipv4_mapped is not None:
        return str(known.ipv4_mapped)
    return str(ip_network((int(known), ONE_CALLER), strict=False))


class ComesFrom:
    """Sets what `trail.came_from()` answers while a request is worked on."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, and see to the answer."""
        # a page's own script asks the API with the session's cookie; a programme comes with a token
        programme = request.path.startswith(API) and "Authorization" in request.headers
        door = Origin.API if programme else Origin.PAGE
        token = trail.coming_from(trail.Came(door, address_of(request)))
        try:
            return self._get_response(request)
        finally:
            trail.left(token)
