import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from pooling.edition import assemble, canonical_bytes
from pooling.edition.certificate import certificate_bytes
from pooling.edition.package import archive_bytes
from pooling.edition.signature import sign_edition
from server.editions.neighbours import neighbours_of
from tests.pooling.conftest import make_context, make_fit
from tests.server.editions.test_neighbours import ADDRESS, KEY, PUBLIC_KEY, add, packed
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def package():
    return packed()


def told(content, **changed):
    file = SimpleUploadedFile("package.zip", content)
    return {"package": file, "address": ADDRESS, "public_key": PUBLIC_KEY} | changed


def test_a_package_is_handed_in_read_and_taken_off(browser_of, client, moderator, group, package):
    moderating = f"/groups/{group.slug}/moderate/elsewhere/"
    assert "as not ours" in words(browser_of(moderator).post(moderating, told(package), follow=True))
    (shown,) = neighbours_of(group.slug, None)
    client.logout()
    assert "Hill walkers" in words(client.get(f"/groups/{group.slug}/elsewhere/"))
    page = words(client.get(f"/groups/{group.slug}/elsewhere/{shown.id}/"))
    for said in ("Not ours", ADDRESS, PUBLIC_KEY, shown.sha256, "The caution it came with", "off-label"):
        assert said in page
    browser_of(moderator).post(f"{moderating}{shown.id}/")
    assert neighbours_of(group.slug, None) == []


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"address": "http://hills.example/"}, "https://"),
        ({"public_key": "12"}, "64 hexadecimal digits"),
        ({"public_key": "0" * 64}, "signature"),
        ({"package": ""}, "Choose the file"),
    ],
)
def test_what_cannot_be_shown_is_refused_in_words(browser_of, moderator, group, package, changed, said):
    answer = browser_of(moderator).post(f"/groups/{group.slug}/moderate/elsewhere/", told(package, **changed))
    assert (answer.status_code, said in words(answer)) == (422, True)
    assert neighbours_of(group.slug, None) == []


@pytest.mark.parametrize("tables", [{}, {"sites": [{}]}, {"sites": [{"mard_pct": "x", "label": 3}]}])
def test_rows_that_this_version_cannot_read_leave_the_page_whole(client, moderator, group, tables):
    document = json.loads(canonical_bytes(assemble(make_fit(), make_context()))) | {"tables": tables}
    content = canonical_bytes(document)
    certificate = certificate_bytes(content, auditor_version=1)
    signature = json.dumps(sign_edition(content, certificate, KEY)).encode()
    parts = {"edition.json": content, "certificate.json": certificate, "signature.json": signature}
    row = add(group, archive_bytes(parts), moderator)
    page = client.get(f"/groups/{group.slug}/elsewhere/{row.pk}/")
    assert (page.status_code, "written otherwise" in words(page)) == (200, True)
    assert "The caution it came with" in words(page)


def test_moderators_alone_hand_in_and_take_off(browser_of, moderator, contributor, stranger, group, package):
    row = add(group, package, moderator)
    moderating = f"/groups/{group.slug}/moderate/elsewhere/"
    for one, status in ((contributor, 403), (stranger, 404)):
        assert browser_of(one).get(moderating).status_code == status
        assert browser_of(one).post(f"{moderating}{row.pk}/").status_code == status
    assert len(neighbours_of(group.slug, None)) == 1
