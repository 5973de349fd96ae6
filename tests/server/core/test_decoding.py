import pytest
from msgspec import Struct

from server.core.decoding import converted, decoded
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
        (b'{"leaves": [{"name": "a"}, {"name": 3}]}', "#/body/leaves/1/name", "Expected `str`, got `int`."),
        (b'{"leaves": [{"name": "a", "colour": 3}]}', "#/body/leaves/0", "unknown field `colour`"),
        (b"{}", "#/body", "missing required field `leaves`"),
        (b"{", "#/body", "cannot be read as JSON"),
        (b"\xff", "#/body", "cannot be read as JSON"),
        (b"[" * 100_000, "#/body", "Expected `object`, got `array`"),
    ],
    ids=["a field", "unknown", "missing", "cut", "not UTF-8", "deep"],
)
def test_a_fault_says_where_and_what(raw, pointer, says):
    with pytest.raises(Invalid) as refusal:
        decoded(raw, Tree, place="#/body")
    (fault,) = refusal.value.faults
    assert fault["pointer"] == pointer
    assert says in fault["message"]


def test_what_was_read_already_is_held_to_the_shape_too():
    with pytest.raises(Invalid) as refusal:
        converted({"leaves": [3]}, Tree)
    assert refusal.value.faults[0]["pointer"] == "#/leaves/0"
