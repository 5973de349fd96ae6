"""Errors on pages, in words: what is hidden, gone or never there looks the same everywhere."""

from collections.abc import Callable
from http import HTTPStatus

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.locale import LocaleMiddleware
from django.shortcuts import render
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from server.accounts import sessions
from server.core.errors import Forbidden, NotFound, ServiceError
from server.core.locks import waited_too_long
from server.web.load import come_back
from server.web.saying import caution
from server.web.units import unit_of

NOTHING_OPEN = gettext_lazy(
    "The address may be mistyped, what stood here may have been erased, or it is open to others only."
)
NOT_OUR_FORM = gettext_lazy(
    "This form was sent already, or had been open since before you signed in or out. Go back, load the page again, and "
    "send it once more."
)


def keep_signed_in(answer: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Put off the end of a session that is used; one without a cookie is not even looked at."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if settings.SESSION_COOKIE_NAME in request.COOKIES:
            sessions.use(request.session)
        return answer(request)

    return middleware


class Language(LocaleMiddleware):
    """The language of a page: the one chosen at its foot, or the first of the browser's that there are texts in.

    The API speaks English whatever the browser prefers, so that one address has one answer.
    """

    def process_request(self, request: HttpRequest) -> None:
        if _is_for_programs(request):
            translation.activate(settings.LANGUAGE_CODE)
            return
        super().process_request(request)

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        if _is_for_programs(request):
            return response
        return super().process_response(request, response)


def _is_for_programs(request: HttpRequest) -> bool:
    return request.path.startswith(("/api/", "/health/"))


class ReachedByForm(ServiceError):
    """An address that only takes what a form sends, opened as if it were a page."""

    status = HTTPStatus.METHOD_NOT_ALLOWED
    code = "reached-by-form"

    def __init__(self, *, allowed: str) -> None:
        self.title = _("This is no page of its own")
        super().__init__(_("It is reached by sending a form. Nothing was done; begin again from your wears."))
        self.allowed = allowed


class StaleForm(Forbidden):
    """A form of a page that was open for too long: nobody did anything that is not theirs."""

    def __init__(self) -> None:
        self.title = _("Send it once more")
        super().__init__(str(NOT_OUR_FORM))


class ErrorsInWords:
    """Turns what services refuse into a page; the API has answers of its own, but to what took too long to begin."""

    def __init__(self, answer: Callable[[HttpRequest], HttpResponse]) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.answer(request)
        if answer.status_code == HTTPStatus.METHOD_NOT_ALLOWED and not request.path.startswith("/api/"):
            return error_page(request, ReachedByForm(allowed=answer.headers["Allow"]))
        return answer

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if waited_too_long(error):
            return come_back(request)
        if isinstance(error, Http404):
            error = NotFound(str(NOTHING_OPEN))
        if not isinstance(error, ServiceError):
            return None
        return error_page(request, error)


def error_page(request: HttpRequest, error: ServiceError) -> HttpResponse:
    context = {"error": error, "unit": unit_of(request), "caution": caution()}
    response = render(request, "errors/refused.html", context, status=error.status)
    if isinstance(error, ReachedByForm):
        response.headers["Allow"] = error.allowed
    return response


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """The page for an address that leads nowhere."""
    return error_page(request, NotFound(str(NOTHING_OPEN)))


def form_refused(request: HttpRequest, reason: str = "") -> HttpResponse:  # noqa: ARG001
    """The page for a form that does not come from a page of ours, or not from the one that is open now."""
    return error_page(request, StaleForm())
