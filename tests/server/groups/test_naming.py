import pytest

from server.core.errors import Invalid
from server.groups.naming import require_plain


@pytest.mark.parametrize("name", ["Harbour circle", "Ärztinnen & Ärzte 7", "می\u200cخواهم", "=1+1", "<b>Hill</b>"])
def test_a_name_that_shows_what_it_is_is_taken(name):
    require_plain({"name": name, "description": "Two lines,\nand letters of any kind: é ж 字."})


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("name", "one\ntwo"),
        ("name", "abc\u202edcba"),
        ("name", "\u2066abc\u2069"),
        ("name", "a\u00adb"),
        ("name", "\u200d"),
        ("name", "---"),
        ("name", "everyone"),
        ("name", " ＥＶＥＲＹＯＮＥ "),
        ("description", "abc\u202edcba"),
        ("description", "a\x07b"),
    ],
)
def test_hidden_characters_and_the_name_of_everyone_are_refused(field, text):
    with pytest.raises(Invalid) as refused:
        require_plain({"name": "Harbour", "description": "", field: text})
    assert [fault["pointer"] for fault in refused.value.faults] == [f"#/{field}"]
