import pytest

from server.core import errors


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (errors.Invalid(), 422),
        (errors.Unauthorised(), 401),
        (errors.Forbidden(), 403),
        (errors.NotFound(), 404),
        (errors.Conflict(), 409),
        (errors.TooLarge(), 413),
        (errors.TooMany(retry_after_s=60), 429),
    ],
)
def test_every_refusal_has_its_status_and_says_something(error, status):
    # RFC 9110 section 15.5, and RFC 6585 section 4 for 429.
    assert error.status == status
    assert isinstance(error, errors.ServiceError)
    assert str(error) == error.detail != ""
    assert error.code != errors.ServiceError.code


def test_faults_are_kept_in_order():
    faults = [{"pointer": "#/b", "message": "b"}, {"pointer": "#/a", "message": "a"}]
    assert errors.Invalid("Two faults.", faults=faults).faults == tuple(faults)
