"""A disk that is full: what cannot be kept is refused in words, nothing is half kept, and room mends it."""

import pytest
from django.db import connection

from server.accounts.models import Holding
from server.core.models import IdempotencyKey
from server.wears.models import Wear, WearPairs, WearSummary
from tests.server.records import record

KEPT = (Wear, WearPairs, WearSummary, Holding, IdempotencyKey)
A_LOT = 1_000_000


def pages_at_most(number):
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA max_page_count = {number}")


def post(api, number):
    body, headers = record(seed=number + 1, plan=None), {"Idempotency-Key": str(number)}
    return api.post("/api/v1/wears/", body, format="json", headers=headers)


@pytest.fixture
def full_disk(db):
    """Fill the last free page; from then on the database cannot grow."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA page_count")
        (n_pages,) = cursor.fetchone()
    pages_at_most(n_pages)
    yield
    pages_at_most(A_LOT)


@pytest.mark.django_db(transaction=True)
def test_uploads_are_refused_while_the_disk_is_full_and_kept_again_afterwards(contributor, catalogue, full_disk):
    api = contributor.api
    api.raise_request_exception = False
    statuses = []
    for number in range(400):
        before = [model.objects.count() for model in KEPT]
        answer = api.post(
            "/api/v1/wears/", record(seed=number), format="json", headers={"Idempotency-Key": str(number)}
        )
        statuses.append(answer.status_code)
        if answer.status_code == 500:
            break
    assert statuses[-1] == 500
    assert answer.json()["detail"] == "Nothing was stored. Try again later."
    assert [model.objects.count() for model in KEPT] == before
    assert api.get("/api/v1/wears/").status_code == 200

    pages_at_most(A_LOT)
    assert post(api, number).status_code == 201
