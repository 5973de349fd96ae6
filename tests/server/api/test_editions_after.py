"""What becomes of a published edition: its package, its tombstone, its signature."""

import hashlib
import io
import zipfile

import pytest

from pooling.caution import CAUTION_TEXT
from pooling.edition.verifying import check_package
from server.editions.models import Retraction
from server.groups.models import Group
from tests.server.editions.printed import printed

pytestmark = pytest.mark.django_db
EDITION = "/api/v1/groups/harbour/editions/1/"


@pytest.fixture
def edition(group, clock, signing_key):
    return printed(group)


def test_the_package_is_whole_signed_and_the_same_every_time(edition, api, signing_key):
    answer = api.get(f"{EDITION}package.zip")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/zip")
    assert answer["Content-Disposition"] == 'attachment; filename="harbour-edition-1.zip"'
    assert answer["ETag"] == f'"{hashlib.sha256(answer.content).hexdigest()}"'
    checked = check_package(answer.content, sha256=edition.sha256, public_key=signing_key)
    assert (checked.faults, checked.signed_by) == ((), signing_key)
    assert api.get(f"{EDITION}package.zip").content == answer.content
    assert api.get(f"{EDITION}package.zip", HTTP_IF_NONE_MATCH=answer["ETag"]).status_code == 304
    archive = zipfile.ZipFile(io.BytesIO(answer.content))
    for path in ("tables/sites.csv", "tables/skin.csv", "charts/sites.svg", "charts/contrasts.svg"):
        assert archive.read(path) == api.get(EDITION + path).content
    assert archive.read("edition.json") == api.get(EDITION).content


def test_an_edition_without_a_certificate_has_no_package(edition, api):
    type(edition)._base_manager.filter(pk=edition.pk)._raw_delete(using="default")
    edition.certificate, edition._state.adding = None, True
    edition.save()
    assert api.get(f"{EDITION}package.zip").status_code == 404
    assert api.get(EDITION).status_code == 200


FILES = ("", "tables/sites.csv", "charts/sites.svg", "charts/sites.json", "package.zip")


def test_what_was_taken_back_is_gone_everywhere_and_says_why(edition, moderator, api):
    pages = ("/groups/harbour/editions/1/", "/groups/harbour/")
    assert {api.get(page).status_code for page in pages} == {200}  # and are kept ready from now on
    answer = moderator.api.post(f"{EDITION}retraction/", {"reason": "wrong_data"})
    assert answer.status_code == 201
    assert answer.json()["month"] == "2031-02-01"
    for path in FILES:
        gone = api.get(EDITION + path)
        assert (gone.status_code, gone["Content-Type"]) == (410, "application/problem+json")
        assert (gone.json()["code"], gone.json()["reason"]) == ("taken-back", "wrong_data")
        assert "wears that should not have been counted" in gone.json()["detail"]
        assert gone.json()["caution"]["text"] == CAUTION_TEXT
        assert "max-age" not in gone.get("Cache-Control", "")
    assert api.get("/api/v1/groups/harbour/editions/latest/").status_code == 404
    (line,) = api.get("/api/v1/groups/harbour/editions/").json()["editions"]
    assert (line["number"], line["retracted"]["reason"], line["sha256"]) == (1, "wrong_data", edition.sha256)
    assert api.get("/groups/harbour/editions/1/").status_code == 410
    assert edition.sha256 not in api.get("/groups/harbour/").content.decode()
    assert "Taken back; do not use these figures." in api.get("/groups/harbour/editions/").content.decode()


def test_a_tombstone_tells_strangers_of_a_closed_group_nothing(edition, moderator, api, stranger):
    moderator.api.post(f"{EDITION}retraction/", {"reason": "privacy"})
    Group.objects.filter(slug="harbour").update(public=False)
    for client in (api, stranger.api):
        assert {client.get(EDITION + path).status_code for path in FILES} == {404}
    assert moderator.api.get(EDITION).status_code == 410


def test_where_two_are_asked_for_the_first_answer_is_202(edition, moderator, second_moderator, two_people, api):
    proposed = moderator.api.post(f"{EDITION}retraction/", {"reason": "privacy"})
    assert (proposed.status_code, proposed.json()["month"]) == (202, None)
    assert api.get(EDITION).status_code == 200
    assert second_moderator.api.get(f"{EDITION}retraction/").json()["reason"] == "privacy"
    assert moderator.api.post(f"{EDITION}retraction/", {"reason": "privacy"}).status_code == 409
    assert second_moderator.api.post(f"{EDITION}retraction/", {"reason": "privacy"}).status_code == 201
    assert api.get(EDITION).status_code == 410
    assert moderator.api.delete(f"{EDITION}retraction/").status_code == 409


def test_reasons_are_of_the_list_and_a_proposal_can_be_withdrawn(edition, moderator, two_people):
    for body, pointer in (({"reason": "x"}, "#/reason"), ({}, "#/reason"), ({"reason": "privacy", "a": 1}, "#/a")):
        refused = moderator.api.post(f"{EDITION}retraction/", body)
        assert (refused.status_code, refused.json()["faults"][0]["pointer"]) == (422, pointer)
    assert moderator.api.get(f"{EDITION}retraction/").status_code == 404
    moderator.api.post(f"{EDITION}retraction/", {"reason": "privacy"})
    assert moderator.api.delete(f"{EDITION}retraction/").status_code == 204
    assert not Retraction.objects.exists()


def test_the_key_stands_at_its_address(api, settings, tmp_path, signing_key, group):
    answer = api.get("/api/v1/signing-key/").json()
    assert (answer["algorithm"], answer["public_key"], answer["also_signed_with"]) == ("Ed25519", signing_key, [])
    printed(group)
    settings.SIGNING_KEY_FILE = tmp_path / "none.pem"
    assert api.get("/api/v1/signing-key/").status_code == 404
