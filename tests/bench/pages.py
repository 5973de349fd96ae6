"""What it costs to hand out a page of figures that is kept ready, and how soon a browser shows it."""

import os
import tempfile
from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path

from tests.bench.runner import bench, ratio

N_REQUESTS, ROUNDS = 300, 7
EDITION, BARE = "/groups/hill-walkers/editions/7/", "/bare/"
SITE = f"{EDITION}sites/upper_arm.back/"


def service(place: str, page: str, *, bare: Callable[[bytes], bytes] = bytes):
    """The service on an empty database of its own with one edition, and beside the page a bare view.

    `bare` makes the bare view's body of that of the page.
    """
    os.environ |= {"DJANGO_SETTINGS_MODULE": "server.settings", "COMMONWEAR_DATA_DIR": place}
    os.environ.pop("DATABASE_URL", None)
    import django

    django.setup()
    from django.conf import settings
    from django.core.handlers.wsgi import WSGIHandler
    from django.core.management import call_command
    from django.http import HttpResponse
    from django.urls import path

    from pooling.edition import assemble, canonical_bytes, sha256_hex
    from server.editions.models import Edition, Slot
    from server.groups.models import Group
    from server.web import urls
    from tests.pooling.conftest import make_context, make_fit, make_outcomes, make_parts

    call_command("migrate", verbosity=0)
    settings.STATIC_ROOT = Path(place) / "static"
    call_command("collectstatic", interactive=False, verbosity=0)
    content = canonical_bytes(assemble(make_fit(), make_context(), make_outcomes(), make_parts()))
    group = Group.objects.create(
        slug="hill-walkers",
        name="Hill",
        public=True,
        feeds_everyone=False,
        wearers="adult",
        founded_on=date.min,
    )
    Edition.objects.create(
        group=group,
        slot=Slot.objects.create(number=7, cut_off=date(2026, 7, 1)),
        document=content,
        sha256=sha256_hex(content),
        published_month=date(2026, 7, 1),
    )
    handler = WSGIHandler()
    body = bare(_asked(handler, page))
    # Beside the page's own address, so that both are looked up for as long.
    beside = [pattern.name for pattern in urls.urlpatterns].index("edition")
    urls.urlpatterns.insert(beside, path(BARE.lstrip("/"), lambda _request: HttpResponse(body)))
    assert _asked(handler, BARE) == body
    return handler


def _asked(handler, address: str) -> bytes:
    """One request as a server of WSGI makes it."""
    statuses = []
    asked = {
        "REQUEST_METHOD": "GET",
        "PATH_INFO": address,
        "SERVER_NAME": "localhost",
        "SERVER_PORT": "80",
        "HTTP_HOST": "localhost",
        "wsgi.input": BytesIO(),
        "wsgi.url_scheme": "http",
    }
    answer = handler(asked, lambda status, _headers: statuses.append(status))
    body = b"".join(answer)
    answer.close()
    assert statuses == ["200 OK"], statuses
    return body


def _beside_bare(page: str) -> float:
    """Requests through the whole service, one after the other; the inverse is the share of a bare view's rate."""
    with tempfile.TemporaryDirectory() as place:
        handler = service(place, page)

        def pages() -> None:
            for _ in range(N_REQUESTS):
                _asked(handler, page)

        def bare() -> None:
            for _ in range(N_REQUESTS):
                _asked(handler, BARE)

        return ratio(pages, bare, rounds=ROUNDS)


@bench("a page of figures: a bare view that answers with the same bytes (1 / 0.8 of its time)", bound=1.25)
def page_of_figures() -> float:
    return _beside_bare(EDITION)


@bench("the page of a site: a bare view that answers with the same bytes (1 / 0.8 of its time)", bound=1.25)
def page_of_a_site() -> float:
    return _beside_bare(SITE)
