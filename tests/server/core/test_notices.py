"""A notice reaches whoever comes by: on every page, with every sign-in, and for good on a page of its own."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command

from server.core import clock as clocks
from server.core.errors import Invalid, NotFound
from server.core.notices import LONGEST, all_notices, post_notice, standing_notices, withdraw_notice
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
SAID = "A copy of the database was out of our hands on 3 February. <Do this>: set a new password."


def test_a_notice_stands_until_it_is_withdrawn_and_is_kept(clock):
    notice = post_notice(f"  {SAID}\n")
    assert [(each.text, each.posted_on) for each in standing_notices()] == [(SAID, clocks.today())]
    clock.set(clocks.today() + timedelta(days=30))
    withdraw_notice(notice.pk)
    assert standing_notices() == []
    assert [each.withdrawn_on for each in all_notices()] == [clocks.today()]


@pytest.mark.parametrize("text", ["", "  \n", "x" * (LONGEST + 1)])
def test_nothing_and_too_much_are_refused(text):
    with pytest.raises(Invalid, match="characters"):
        post_notice(text)
    assert all_notices() == []


def test_only_what_stands_can_be_withdrawn():
    notice = post_notice(SAID)
    withdraw_notice(notice.pk)
    for key in (notice.pk, uuid4()):
        with pytest.raises(NotFound):
            withdraw_notice(key)


def test_whoever_signs_in_is_told(stranger, api):
    post_notice(SAID)
    answer = api.post("/api/v1/tokens/", {"sign_in_name": stranger.sign_in_name, "password": PASSWORD}).json()
    assert [notice["text"] for notice in answer["notices"]] == [SAID]
    recovery = {
        "sign_in_name": stranger.sign_in_name,
        "recovery_code": stranger.recovery_codes[0],
        "password": "four other ordinary words",
    }
    assert api.post("/api/v1/tokens/recovery/", recovery).json()["notices"] == answer["notices"]
    assert api.get("/api/v1/notices/").json()["notices"] == answer["notices"]


@pytest.mark.parametrize("address", ["/", "/pairs/", "/about-data/", "/groups/nowhere/"])
def test_every_page_shows_it_as_text(client, address):
    assert b"Notice of" not in client.get(address).content
    post_notice(SAID)
    page = client.get(address).content.decode()
    assert "set a new password" in page
    assert "<Do this>" not in page


def test_the_operator_posts_lists_and_withdraws_by_command(tmp_path, capsys):
    call_command("notice", SAID)
    (first,) = all_notices()
    (tmp_path / "said.txt").write_text("Another.\nAt length.")
    call_command("notice", "--file", str(tmp_path / "said.txt"))
    call_command("notice", "--withdraw", str(first.pk))
    assert [notice.text for notice in standing_notices()] == ["Another.\nAt length."]
    assert f"{first.pk}  {first.posted_on}  withdrawn" in capsys.readouterr().out
    for words in (["--withdraw", str(uuid4())], ["--file", str(tmp_path / "nowhere")], [" "]):
        with pytest.raises(CommandError):
            call_command("notice", *words)


def test_a_breach_can_end_every_sign_in(stranger, contributor, capsys):
    assert stranger.api.get("/api/v1/wears/").status_code == 200
    call_command("signout")
    assert "sign-ins ended: " in capsys.readouterr().out
    for member in (stranger, contributor):
        assert member.api.get("/api/v1/wears/").status_code == 401
