"""The glucose unit that a reader chose, kept in a cookie of this site."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from server.core.glucose import UNITS

A_YEAR_S = 365 * 24 * 3600


def unit_of(request: HttpRequest) -> str:
    chosen = request.COOKIES.get(settings.UNIT_COOKIE_NAME, "")
    return chosen if chosen in UNITS else UNITS[0]


def remember_unit(response: HttpResponse, unit: str) -> None:
    """Keep the reader's choice in a cookie; a unit that is none changes nothing."""
    if unit in UNITS:
        response.set_cookie(
            settings.UNIT_COOKIE_NAME, unit, max_age=A_YEAR_S, samesite="Lax", httponly=True, secure=settings.PUBLIC
        )
