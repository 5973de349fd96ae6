"""What holds for every request: a limit on its body, and answers that nobody keeps."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from server.core import logs, metrics
from server.core.errors import TooLarge
from server.core.problems import answer_of

REQUEST_ID = "X-Request-ID"
View = Callable[[HttpRequest], HttpResponse]


def name_request(get_response: View) -> View:
    """Give each request a random id, which its answer, its log lines and its jobs carry, and count it.

    One that somebody sends along is not taken over: nobody's words get into the logs.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        request_id = logs.new_id()
        with logs.about(request=request_id), metrics.counted(request) as count:
            response = get_response(request)
            count(response)
        response.headers[REQUEST_ID] = request_id
        return response

    return middleware


def limit_body(get_response: View) -> View:
    """Refuse a long body before any of it is read."""

    def middleware(request: HttpRequest) -> HttpResponse:
        length = request.META.get("CONTENT_LENGTH") or "0"
        if length.isdecimal() and int(length) <= settings.LARGEST_BODY_BYTES:
            return get_response(request)
        most = f"A body may hold at most {settings.LARGEST_BODY_BYTES // 1024**2} MiB. Send less at once."
        return answer_of(TooLarge(most))

    return middleware


def keep_private(get_response: View) -> View:
    """Let no browser or proxy keep an answer, unless its view said so; switch off what no page here uses."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Cache-Control", "no-store")
        response.headers.setdefault("Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=()")
        return response

    return middleware
