import pytest


@pytest.mark.parametrize("length", ["9000000", "no number"])
def test_a_long_body_is_refused_before_it_is_read(client, length):
    answer = client.post("/api/v1/members/", b"{}", content_type="application/json", CONTENT_LENGTH=length)
    assert answer.status_code == 413
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["status"] == 413


def test_answers_are_kept_by_nobody_and_pages_may_do_little(client):
    answer = client.get("/health/live")
    assert answer["Cache-Control"] == "no-store"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Frame-Options"] == "DENY"
    policy = answer["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
