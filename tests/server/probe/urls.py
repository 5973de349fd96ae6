from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import path

from server.urls import *  # noqa: F403
from server.urls import urlpatterns as ours
from tests.server.probe.tasks import wait_for_word


def slow(_request: HttpRequest, subject: UUID) -> HttpResponse:
    wait_for_word(subject)
    return HttpResponse("slow and whole", content_type="text/plain")


urlpatterns = [path("slow/<uuid:subject>", slow), *ours]
