import json
import os
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT
from pooling.cli.exits import Exit
from pooling.cli.tokens import KEPT_AS
from tests.house.tree import ROOT
from tests.pooling.cli.conftest import SERVER
from tests.server.records import CHILD

LOST = httpx.ReadError("the line broke")
AWAY = httpx.ConnectError("no route")


def flat(text):
    return " ".join(text.split())


@pytest.fixture
def member(new_member, sensor_model):
    return new_member()


@pytest.fixture
def send(commonwear, line, member, tokens_kept):
    """`commonwear send` by a member who is signed in."""
    tokens_kept[KEPT_AS, SERVER] = member.token

    def run(*words):
        return commonwear("send", "--server", SERVER, *words)

    return run


@pytest.fixture
def wears_of(member):
    def count(member=member):
        return member.api.get("/api/v1/wears/").json()["wears"]

    return count


def test_a_wear_arrives_and_is_told_about(send, write, wear, wears_of):
    ended = send(write(wear))
    assert ended.code == 0, ended.err
    [kept] = wears_of()
    assert kept["id"] in ended.out
    assert kept["state"] == "private"
    assert "wear.json: sent" in ended.out
    assert "Nobody but you sees a wear until you give it to a group." in flat(ended.out)
    assert CAUTION_SHORT in flat(ended.out)
    assert max(map(len, (ended.out + ended.err).splitlines())) <= 80


def test_the_file_goes_out_byte_for_byte(send, write, wear, line):
    raw = json.dumps(wear, indent=3).encode() + b"\n\n"
    assert send(write(raw)).code == 0
    [posted] = line.posted()
    assert posted.content == raw


def test_a_second_run_sends_nothing(send, write, wear, wears_of, line):
    first, second = send(write(wear)), send("wear.json")
    assert (first.code, second.code) == (0, 0)
    assert "wear.json: sent before" in second.out
    assert len(line.posted()) == len(wears_of()) == 1


def test_an_answer_lost_on_the_way_makes_no_second_wear(send, write, wear, wears_of, line):
    line.lost = [LOST]
    ended = send(write(wear))
    assert ended.code == 0
    assert "Trying again in 1 s." in ended.err
    assert len({request.headers["Idempotency-Key"] for request in line.posted()}) == 1
    assert (len(line.posted()), len(wears_of())) == (2, 1)


def test_a_run_cut_off_is_taken_up_with_the_same_key(send, write, wear, wears_of, line):
    line.lost = [LOST] * 5
    cut = send(write(wear))
    assert cut.code == Exit.UNREACHABLE
    assert send("wear.json").code == 0
    assert len({request.headers["Idempotency-Key"] for request in line.posted()}) == 1
    assert (len(line.posted()), len(wears_of())) == (6, 1)


def test_when_the_server_is_gone_the_rest_waits_and_the_next_run_sends_it(send, write, wear, wears_of, line):
    names = [write(wear | {"worn_min": 20_000 + number}, f"{number}.json") for number in range(3)]
    assert send(names[0]).code == 0
    line.troubles = [AWAY] * 5
    ended = send(*names)
    assert ended.code == Exit.UNREACHABLE
    assert "3 files, worn by yourself: 1 sent before, 1 not sent, 1 not tried" in ended.out
    assert "Run the same command again later" in flat(ended.out)
    assert "3 files, worn by yourself: 1 sent before, 2 sent" in send(*names).out
    assert len(wears_of()) == 3


def test_a_busy_server_is_waited_for_as_long_as_it_says(send, write, wear, line):
    line.troubles = [httpx.Response(503, headers={"Retry-After": "9"}), httpx.Response(429)]
    assert send(write(wear)).code == 0
    assert line.waits_s == [9, 2]


def test_a_fault_that_only_the_server_knows_is_shown_where_it_is(send, write, wear, wears_of):
    ended = send(write(wear | {"sensor_model": "demo-unheard-of"}))
    assert ended.code == Exit.REFUSED
    assert "wear.json: refused" in ended.out
    assert "sensor_model (#/sensor_model)" in ended.out
    assert "Sensor models it takes: demo-a14." in ended.out
    assert wears_of() == []
    assert send(write(wear)).code == 0


def test_what_is_invalid_is_not_sent_and_the_others_are(send, write, wear, wears_of, line):
    ended = send(write(wear | {"site": "thigh"}, "bad.json"), write(wear), "absent.json")
    assert ended.code == Exit.UNREADABLE
    assert "bad.json: invalid" in ended.out
    assert "site (#/site)" in ended.out
    assert "absent.json: not sent" in ended.out
    assert len(wears_of()) == len(line.posted()) == 1


def test_a_finding_that_says_stop_holds_a_wear_back_until_it_is_meant(send, write, wear, wears_of):
    for pair in wear["pairs"]:
        pair |= {"sensor": pair["reference"], "sensor_mark": None}
    ended = send(write(wear))
    assert ended.code == Exit.FINDINGS
    assert "wear.json: held back" in ended.out
    assert "Stop: Sensor and fingerstick are the same" in ended.out
    assert wears_of() == []
    assert send("wear.json", "--despite-findings").code == 0
    assert len(wears_of()) == 1


def test_a_changed_record_is_not_sent_beside_the_first_by_mistake(send, write, wear, wears_of):
    send(write(wear))
    ended = send(write(wear | {"site": "calf"}))
    assert ended.code == Exit.FINDINGS
    assert "It has changed since it was sent as wear" in flat(ended.out)
    assert len(wears_of()) == 1
    again = send("wear.json", "--again", "--json")
    assert again.code == 0
    assert "own_duplicate" in again.json["files"][0]["findings"]
    assert len(wears_of()) == 2


def test_a_childs_wear_is_the_childs(send, write, wear, member, line):
    child = member.api.post("/api/v1/me/wearers/", CHILD, format="json").json()
    ended = send(write(wear), "--wearer", "child")
    assert ended.code == 0
    assert line.posted()[0].headers["Wearer"] == child["id"]
    assert "1 file, worn by child: 1 sent" in ended.out
    as_own = send("wear.json")
    assert as_own.code == Exit.FINDINGS
    assert "It is now said to be somebody else's since it was sent" in flat(as_own.out)


@pytest.mark.parametrize(("relations", "who"), [((), "child"), (("child", "child"), "child")], ids=["none", "two"])
def test_who_is_meant_must_be_clear(send, write, wear, member, line, relations, who):
    ids = [
        member.api.post("/api/v1/me/wearers/", CHILD | {"relation": relation}, format="json").json()["id"]
        for relation in relations
    ]
    ended = send(write(wear), "--wearer", who)
    assert ended.code == Exit.USAGE
    assert all(wearer in flat(ended.err) for wearer in ids)
    assert line.posted() == []
    for wearer in ids:
        assert send("wear.json", "--wearer", wearer, "--again").code == 0


def test_oneself_needs_no_look_up(send, write, wear, line):
    assert send(write(wear), "--wearer", "self").code == 0
    assert "Wearer" not in line.posted()[0].headers
    assert len(line.requests) == 1


def test_a_dry_run_sends_nothing_and_needs_no_sign_in(commonwear, write, wear, line, tokens_kept):
    ended = commonwear("send", write(wear), "--server", SERVER, "--dry-run")
    assert ended.code == 0
    assert "wear.json: ready" in ended.out
    assert f"{len(Path('wear.json').read_bytes()):,} bytes, as in the file" in ended.out
    assert line.requests == []
    assert not Path("wear.json.sent").exists()


def test_a_dry_run_tells_what_would_be_held_back(commonwear, write, wear, line, tokens_kept):
    ended = commonwear("send", write(wear | {"site": "thigh"}), "absent.json", "--server", SERVER, "--dry-run")
    assert ended.code == Exit.UNREADABLE
    assert "wear.json: invalid" in ended.out


def test_whoever_is_not_signed_in_is_told_how(commonwear, write, wear, line, tokens_kept):
    ended = commonwear("send", write(wear), "--server", SERVER)
    assert ended.code == Exit.SIGN_IN
    assert "Add --sign-in, or set COMMONWEAR_TOKEN." in flat(ended.err)


def test_a_token_that_has_ended_stops_at_the_first_file(commonwear, write, wear, line, tokens_kept, monkeypatch):
    monkeypatch.setenv("COMMONWEAR_TOKEN", "ended")
    ended = commonwear("send", write(wear), write(wear, "b.json"), "--server", SERVER)
    assert ended.code == Exit.SIGN_IN
    assert len(line.posted()) == 1
    assert "2 files, worn by yourself: 1 not sent, 1 not tried" in ended.out


def test_standard_input_is_no_file_to_send(send, line):
    assert send("-").code == Exit.USAGE
    assert line.requests == []


def test_json_says_what_became_of_each_file(send, write, wear, wears_of):
    ended = send(write(wear), write(wear | {"sensor_model": "demo-unheard-of"}, "b.json"), "--json")
    assert ended.code == Exit.REFUSED
    first, second = ended.json["files"]
    assert (first["file"], first["outcome"], first["wear"]) == ("wear.json", "sent", wears_of()[0]["id"])
    assert (second["outcome"], second["faults"][0]["pointer"]) == ("refused", "#/sensor_model")
    assert ended.json["server"] == SERVER
    assert ended.json["caution"]["text"] == CAUTION_TEXT


def test_the_server_may_be_named_by_the_environment(commonwear, write, wear, line, member, monkeypatch):
    monkeypatch.setenv("COMMONWEAR_SERVER", SERVER)
    monkeypatch.setenv("COMMONWEAR_TOKEN", member.token)
    assert commonwear("send", write(wear)).code == 0


def test_over_a_real_line_from_a_process_of_its_own(live_server, new_member, sensor_model, write, wear):
    member = new_member()
    write(wear)
    quiet = {"COMMONWEAR_TOKEN": member.token, "PYTHONPATH": str(ROOT), "PATH": os.environ["PATH"]}
    words = [sys.executable, "-m", "pooling.cli", "send", "wear.json", "--server", live_server.url]
    ended = subprocess.run(words, env=quiet, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr
    assert "1 file, worn by yourself: 1 sent" in ended.stdout
    assert "\x1b" not in ended.stdout + ended.stderr
    assert len(member.api.get("/api/v1/wears/").json()["wears"]) == 1
