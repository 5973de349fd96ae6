import json

import pytest

from server.api.rendering import ResultRenderer
from server.core.selectors import caution


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ({"a": 1}, {"a": 1}),
        ([1, 2], {"items": [1, 2]}),
        ({}, {}),
        ({"caution": {"version": 0}}, {"caution": {"version": 0}}),
    ],
)
def test_every_body_becomes_an_object_with_a_caution(content, expected):
    assert json.loads(ResultRenderer().render(content)) == {"caution": caution()} | expected


def test_an_empty_answer_stays_empty():
    assert ResultRenderer().render(None) == b""
