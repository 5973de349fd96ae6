import json
from io import BytesIO

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from server.core.middleware import REQUEST_ID, read_to_the_end
from server.wears import services


@pytest.mark.parametrize("length", ["9000000", "no number"])
def test_a_long_body_is_refused_before_it_is_read(client, length):
    answer = client.post("/api/v1/members/", b"{}", content_type="application/json", CONTENT_LENGTH=length)
    assert answer.status_code == 413
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["status"] == 413
    assert answer.json()["caution"]["text"]


def refused_unread(body):
    """A request of 100,000 bytes whose view looks at none of them, and what it is answered."""
    request = RequestFactory().post("/api/v1/wears/", **{"wsgi.input": body, "CONTENT_LENGTH": "100000"})
    return read_to_the_end(lambda request: HttpResponse(status=401))(request)


def test_what_a_view_leaves_unread_is_read_to_its_end_and_no_further():
    body = BytesIO(bytes(150_000))
    assert refused_unread(body).status_code == 401
    assert body.tell() == 100_000


def test_whoever_goes_away_meanwhile_makes_no_fault():
    class Gone(BytesIO):
        def read(self, *_):
            raise ConnectionResetError

    assert refused_unread(Gone()).status_code == 401


def test_answers_are_kept_by_nobody_and_pages_may_do_little(client):
    answer = client.get("/health/live")
    assert answer["Cache-Control"] == "no-store"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Frame-Options"] == "DENY"
    words = [part.split() for part in answer["Content-Security-Policy"].split(";")]
    policy = {word: " ".join(rest) for word, *rest in words}
    nothing = {"default-src", "base-uri", "frame-ancestors"}  # objects fall under the first
    kinds = ("script", "worker", "style", "img", "connect", "font", "manifest")
    own = {"form-action", *(f"{kind}-src" for kind in kinds)}
    assert policy == dict.fromkeys(nothing, "'none'") | dict.fromkeys(own, "'self'")


@pytest.mark.django_db
def test_every_answer_has_an_id_of_its_own_and_takes_over_none(client):
    first, second = client.get("/health/live"), client.get("/nowhere/", headers={REQUEST_ID: "quiet-otter-12345"})
    assert len({first[REQUEST_ID], second[REQUEST_ID], "quiet-otter-12345"}) == 3
    assert client.generic("POST", "/api/v1/members/", CONTENT_LENGTH="9000000")[REQUEST_ID]


@pytest.mark.django_db
def test_a_request_that_breaks_is_logged_by_its_pattern_and_id_alone(contributor, upload, lines, monkeypatch):
    wear = upload(contributor)

    def break_down(*_, **__):
        raise ValueError("reference 112 mg/dL of quiet-otter-12345")

    monkeypatch.setattr(services, "give_to_group", break_down)
    api = contributor.api
    api.raise_request_exception = False
    answer = api.put(f"/api/v1/wears/{wear.pk}/group/?tell=quiet-otter-12345", {"group": "harbour"}, format="json")
    assert answer.status_code == 500
    (line,) = [line for line in lines if line["logger"] == "django.request"]
    assert (line["route"], line["request"]) == ("/api/v1/wears/<uuid:wear_id>/group/", answer[REQUEST_ID])
    said = json.dumps(lines)
    for canary in ("otter", "112", str(wear.pk), "harbour", contributor.token, contributor.sign_in_name):
        assert canary not in said
