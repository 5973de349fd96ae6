import pytest

pytestmark = pytest.mark.django_db


def test_a_body_nested_without_end_is_refused_in_words(api):
    answer = api.generic("POST", "/api/v1/members/", "[" * 100_000, content_type="application/json")
    assert answer.status_code == 400
    assert "nested too deeply" in answer.json()["detail"]


def test_half_a_character_in_a_name_is_told_back_in_safe_letters(api):
    answer = api.generic("POST", "/api/v1/members/", '{"\\ud800": 1}', content_type="application/json")
    assert answer.status_code == 422
    assert b"\\ud800" in answer.content


def test_a_cut_body_of_parts_is_refused_in_words(contributor):
    body = b'--x\r\nContent-Disposition: form-data; name="file"; filename="a"\r\n'
    answer = contributor.api.generic(
        "POST", "/api/v1/wears/preview/", body, content_type="multipart/form-data; boundary="
    )
    assert (answer.status_code, answer.json()["code"]) == (400, "parse-error")
