from datetime import datetime

import pytest
from msgspec import Struct

from server.core.decoding import UNREADABLE, converted, decoded
from server.core.errors import Invalid


class Leaf(Struct, forbid_unknown_fields=True):
    name: str


class Tree(Struct, forbid_unknown_fields=True):
    leaves: list[Leaf]


def test_what_has_the_shape_is_read():
    assert decoded(b'{"leaves": [{"name": "a"}]}', Tree) == converted({"leaves": [{"name": "a"}]}, Tree)


@pytest.mark.parametrize(
    ("raw", "pointer", "says"),
    [
        (
            b'{"leaves": [{"name": "a"}, {"name": 3}]}',
            "#/body/leaves/1/name",
            "This must be text, and is a whole number.",
        ),
        (b'{"leaves": [{"name": "a", "colour": 3}]}', "#/body/leaves/0/colour", "There is no such field"),
        (b"{}", "#/body/leaves", "This field is missing; add it."),
        (b"{", "#/body", "cannot be read as JSON"),
        (b"\xff", "#/body", "cannot be read as JSON"),
        (b"[" * 100_000, "#/body", "This must be an object, and is a list."),
    ],
    ids=["a field", "unknown", "missing", "cut", "not UTF-8", "deep"],
)
def test_a_fault_says_where_and_what(raw, pointer, says):
    with pytest.raises(Invalid) as refusal:
        decoded(raw, Tree, place="#/body")
    (fault,) = refusal.value.faults
    assert fault["pointer"] == pointer
    assert says in fault["message"]


class When(Struct):
    on: datetime | None


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("17.1.2031", "Write date and time as in 2031-01-17T08:00:00."),
        (3, "This must be date and time or null, and is a w"),
    ],
)
def test_a_time_is_asked_for_in_the_form_that_can_be_read(content, says):
    with pytest.raises(Invalid) as refusal:
        converted({"on": content}, When, place="#/told/answers")
    (fault,) = refusal.value.faults
    assert fault["pointer"] == "#/told/answers/on"
    assert fault["message"].startswith(says)


def test_what_was_read_already_is_held_to_the_shape_too():
    with pytest.raises(Invalid) as refusal:
        converted({"leaves": [3]}, Tree)
    assert refusal.value.faults[0]["pointer"] == "#/leaves/0"


@pytest.mark.parametrize("half", ["\ud800", {"leaves": "\ud800"}, {"\ud800": []}, {"leaves": [{"\udfff": "a"}]}])
def test_half_a_character_is_a_fault_of_the_sender(half):
    with pytest.raises(Invalid) as refusal:
        converted(half, Tree, place="#/body")
    assert refusal.value.faults == ({"pointer": "#/body", "message": UNREADABLE},)
