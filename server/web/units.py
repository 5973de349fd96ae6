"""The glucose unit that a reader chose, kept in a cookie of this site."""

from django.http import HttpRequest

from server.core.glucose import UNITS

COOKIE = "unit"


def unit_of(request: HttpRequest) -> str:
    chosen = request.COOKIES.get(COOKIE, "")
    return chosen if chosen in UNITS else UNITS[0]
