"""How every page of members is shown, and who may see it."""

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any

from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse

from server.web.saying import caution
from server.web.units import unit_of

if TYPE_CHECKING:
    from server.accounts.models import Account

View = Callable[..., HttpResponse]


def show(request: HttpRequest, template: str, context: dict[str, Any] | None = None, status: int = 200) -> HttpResponse:
    shared = {"unit": unit_of(request), "caution": caution()}
    return render(request, template, shared | (context or {}), status=status)


def show_form(request: HttpRequest, template: str, form: Any, context: dict[str, Any] | None = None) -> HttpResponse:
    """A page with a form on it; one that has something to put right says so by its status, too."""
    return show(request, template, {"form": form} | (context or {}), status=422 if form.errors else 200)


def sent(request: HttpRequest) -> QueryDict | None:
    """What a form is filled with: an empty one that was sent has faults, one that was only opened has none."""
    return request.POST if request.method == "POST" else None


class MemberRequest(HttpRequest):
    """A request as a page for members gets it: by somebody."""

    user: "Account"


def for_members(view: View) -> View:
    """Ask whoever is not signed in to sign in, and let no browser keep what the page says."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = view(request, *args, **kwargs)
        response.headers["Cache-Control"] = "no-store"
        return response

    to_sign_in = login_required(guarded)

    @wraps(view)
    def asked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method == "POST" and not request.user.is_authenticated:
            return redirect_to_login(reverse("web:wears"))  # an address that takes forms alone is no way back
        return to_sign_in(request, *args, **kwargs)

    return asked
