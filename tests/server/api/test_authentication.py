import pytest

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("header", ["Bearer", "Bearer x", "Bearer a b c", "Bearer \xe9", "bearer "])
def test_a_bad_token_is_refused_even_where_nobody_need_sign_in(api, header):
    answer = api.get("/api/v1/me/wearers/", HTTP_AUTHORIZATION=header)
    assert answer.status_code == 401


def test_another_scheme_counts_as_nobody(api):
    assert api.get("/api/v1/me/wearers/", HTTP_AUTHORIZATION="Basic eDp5").status_code == 401


def test_the_scheme_is_not_case_sensitive(api, stranger):
    # RFC 9110 section 11.1.
    assert api.get("/api/v1/me/wearers/", HTTP_AUTHORIZATION=f"BEARER {stranger.token}").status_code == 200


def test_a_stopped_account_is_refused(stranger):
    stranger.account.is_active = False
    stranger.account.save()
    assert stranger.api.get("/api/v1/me/wearers/").status_code == 401
