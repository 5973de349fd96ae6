"""Other servers' editions over HTTP."""

import hashlib
import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from pooling.caution import CAUTION_VERSION
from tests.server.editions.test_neighbours import ADDRESS, PUBLIC_KEY, packed

pytestmark = pytest.mark.django_db
NEIGHBOURS = "/api/v1/groups/harbour/neighbours/"


@pytest.fixture(scope="module")
def package():
    return packed()


def send(client, package, **changed):
    parts = {"package": SimpleUploadedFile("package.zip", package), "address": ADDRESS, "public_key": PUBLIC_KEY}
    return client.post(NEIGHBOURS, {**parts, **changed}, format="multipart")


def test_one_is_handed_in_read_by_anybody_and_taken_off(group, moderator, api, package):
    sent = send(moderator.api, package)
    assert sent.status_code == 201
    (listed,) = api.get(NEIGHBOURS).json()["neighbours"]
    assert listed == {name: value for name, value in sent.json().items() if name != "caution"}
    assert (listed["ours"], listed["address"]) == (False, ADDRESS)
    whole = api.get(sent["Location"]).json()
    assert whole["document"]["group"]["name"] == "Hill walkers"
    assert whole["its_caution"] == whole["document"]["caution"]["text"]
    assert whole["caution"]["version"] == CAUTION_VERSION
    assert moderator.api.delete(sent["Location"]).status_code == 204
    assert api.get(sent["Location"]).status_code == 404
    assert api.get(NEIGHBOURS).json()["neighbours"] == []


def test_it_is_never_among_the_group_s_own_editions(group, moderator, api, package):
    send(moderator.api, package)
    assert api.get("/api/v1/groups/harbour/editions/").json()["editions"] == []
    assert api.get("/api/v1/groups/harbour/editions/7/").status_code == 404


def test_each_part_at_fault_is_named(group, moderator, package):
    bare = moderator.api.post(NEIGHBOURS, {"package": "text", "more": "x"}, format="multipart")
    assert bare.status_code == 422
    named = {fault["pointer"] for fault in bare.json()["faults"]}
    assert named == {"#/more", "#/address", "#/package", "#/public_key"}
    damaged = send(moderator.api, package[:-40])
    assert [fault["pointer"] for fault in damaged.json()["faults"]] == ["#/package"]
    file_for_text = send(moderator.api, package, address=SimpleUploadedFile("a", b"https://hills.example/"))
    assert [fault["pointer"] for fault in file_for_text.json()["faults"]] == ["#/address"]


def test_a_digest_that_was_named_must_be_that_of_the_document(group, moderator, package):
    import io
    import zipfile

    document = zipfile.ZipFile(io.BytesIO(package)).read("edition.json")
    assert json.loads(document)["number"] == 7
    assert send(moderator.api, package, sha256="0" * 64).status_code == 422
    assert send(moderator.api, package, sha256=hashlib.sha256(document).hexdigest()).status_code == 201
