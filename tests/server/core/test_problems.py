import json

from server.core.errors import Busy, Fault, Gone, Invalid
from server.core.problems import answer_of, headers_of, problem_of


def test_a_refusal_points_at_its_faults_and_carries_the_caution():
    body = problem_of(Invalid("Nothing was kept.", faults=[Fault(pointer="#/site", message="Choose one.")]))
    assert (body["status"], body["code"], body["type"]) == (422, "invalid", "/problems/invalid")
    assert body["faults"] == [{"pointer": "#/site", "message": "Choose one."}]
    assert set(body["caution"]) == {"version", "text"}


def test_what_was_taken_back_says_why():
    assert problem_of(Gone("It was taken back.", reason="privacy"))["reason"] == "privacy"


def test_what_can_be_tried_again_says_when():
    answer = answer_of(Busy(retry_after_s=3))
    assert (answer.status_code, answer["Retry-After"], answer["Content-Type"]) == (503, "3", "application/problem+json")
    assert json.loads(answer.content)["code"] == "busy"
    assert headers_of(Invalid()) == {}
