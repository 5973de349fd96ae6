"""What the layers below the pages say is read from their source: whole strings, and f-strings with holes."""

import pytest

from server.core import sentences
from server.core.sentences import messages_in


@pytest.mark.parametrize(
    ("source", "messages"),
    [
        ('SAID = "Two words."', ["Two words."]),
        ('"""A docstring of a module."""', []),
        ('def f():\n    """A docstring."""\n    return f"{n} pairs"', ["%(n)s pairs"]),
        ('x: Literal["two words"] = "a value"', ["a value"]),
        ('f"{a.value:.1f} and {b.value}"', ["%(value)s and %(value_2)s"]),
        ("f\"{1 if x else 2} or {'is' if x else 'are'} so\"", ["%(x)s or is so", "%(x)s or are so"]),
        ("f\"in {counted(n_pairs, 'pair')} of it\"", ["in %(n_pairs)s of it", "%(number)s pair", "%(number)s pairs"]),
        ('D = {"a key": "a value"}', ["a value"]),
        ('if code == "some code": pass', []),
        ('x = "95 % of all"', ["95 %% of all"]),
        ('x = "One line.\\nAnother line."', ["One line.", "Another line."]),
        ('x = "no_prose"', []),
        ('x = r"\\d+ of it"', []),
    ],
)
def test_messages_of_a_source(source, messages):
    assert messages_in(source) == messages


def test_some_constants_of_a_file_alone():
    source = 'FIRST = "the first one"\nSECOND: str = "the second one"\nclass Third:\n    said = "the third one"'
    assert messages_in(source, frozenset({"SECOND"})) == ["the second one"]
    assert messages_in(source, frozenset({"Third"})) == ["the third one"]


def test_every_place_that_is_named_speaks():
    spoken = {where for where, _message in sentences.spoken()}
    for entry in sentences.SPEAKING:
        place = entry.partition(":")[0]
        assert any(where == place or where.startswith(f"{place}/") for where in spoken), place
