"""What holds for every request: a limit on its body, which is read whatever the answer, and answers nobody keeps."""

from collections.abc import Callable
from contextlib import suppress

from django.conf import settings
from django.http import HttpRequest, HttpResponse, UnreadablePostError

from server.core import logs, metrics
from server.core.errors import TooLarge
from server.core.problems import answer_of

REQUEST_ID = "X-Request-ID"
READ_AT_A_TIME = 64 * 1024
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


def read_to_the_end(get_response: View) -> View:
    """Read what an answer was given without, such as a refusal.

    A server that has answered while more is on its way ends the connection, and the next request that its client sends
    there is lost.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        with suppress(UnreadablePostError):  # whoever went away needs no connection
            while request.read(READ_AT_A_TIME):
                pass
        return response

    return middleware


def keep_private(get_response: View) -> View:
    """Let no browser or proxy keep an answer, unless its view said so; switch off what no page here uses."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Cache-Control", "no-store")
        response.headers.setdefault("Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=()")
        return response

    return middleware
