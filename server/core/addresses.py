"""The address that a request came from: used to slow down guessing, never stored in clear."""

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """The peer's address, or the one that the outermost trusted proxy saw; what lies before that could be invented."""
    hops = [hop.strip() for hop in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",") if hop.strip()]
    if settings.TRUSTED_PROXIES and len(hops) >= settings.TRUSTED_PROXIES:
        return hops[-settings.TRUSTED_PROXIES]
    return str(request.META.get("REMOTE_ADDR") or "")
