from django.contrib.auth.models import AnonymousUser
from django.http import HttpResponse
from django.test import RequestFactory

from server.web.showing import for_members


@for_members
def cached(request):
    return HttpResponse("mine", headers={"Cache-Control": "public, max-age=60"})


def test_a_page_of_members_is_kept_by_nobody_whatever_its_view_says(stranger):
    request = RequestFactory().get("/mine/")
    request.user = stranger.account
    assert cached(request)["Cache-Control"] == "no-store"


def test_whoever_is_not_signed_in_is_asked_to_and_comes_back():
    request = RequestFactory().get("/mine/?a=1")
    request.user = AnonymousUser()
    assert cached(request)["Location"] == "/sign-in/?next=/mine/%3Fa%3D1"


def test_whoever_was_signed_out_while_typing_does_not_come_back_to_an_address_of_forms():
    request = RequestFactory().post("/mine/keep/")
    request.user = AnonymousUser()
    assert cached(request)["Location"] == "/sign-in/?next=/wears/"
