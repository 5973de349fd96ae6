import pytest

from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db


def test_how_many_wears_are_kept_is_said(browser_of, stranger):
    assert "You keep 0 wears" in words(browser_of(stranger).get("/wears/"))
