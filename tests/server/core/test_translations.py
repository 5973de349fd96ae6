"""Every text of the pages is said in every language that can be chosen, with the same holes for what is filled in."""

import re
from pathlib import Path

import pytest

from server.core import texts

FILES = texts.catalogue_files()
HOLE = re.compile(r"%\(\w+\)\d*[a-z]|%%|\{\w*\}")
TEMPLATES = sorted(Path("server/templates/web").rglob("*.html"))
SAID_ELSEWHERE = re.compile(
    r"\{% blocktranslate.*?\{% endblocktranslate %\}|\{% comment %\}.*?\{% endcomment %\}|\{#.*?#\}|<!--.*?-->"
    r"|\{%.*?%\}|\{\{.*?\}\}",
    re.DOTALL,
)
ATTRIBUTE = re.compile(r'\b(?:aria-label|alt|title|placeholder|data-label)="([^"]*)"')
TAG = re.compile(r"<[^>]*>")
WORD = re.compile(r"[^\W\d_]{2,}")
NO_LANGUAGE = {
    "CSV",
    "JSON",
    "ZIP",
    "SVG",
    "PNG",
    "MARD",
    "mg",
    "dL",
    "mmol",
    "SHA",
    "Commonwear",
    "nbsp",
    "iCalendar",
    "SD",
    "Europe",
    "Lisbon",
}
"""Words that stay as they are in any language: units, formats and the name."""


@pytest.mark.parametrize("file", FILES, ids=lambda file: f"{file.parent.parent.name}-{file.stem}")
def test_a_catalogue_says_everything_that_the_code_says(file):
    said, wanted = texts.read(file), texts.extracted(file.stem)
    missing = [message.id for message in wanted if message.id and message.id not in said]
    assert missing == [], "python -m server texts --update, then translate what comes in empty"


@pytest.mark.parametrize("file", FILES, ids=lambda file: f"{file.parent.parent.name}-{file.stem}")
def test_each_text_is_translated_with_the_same_holes(file):
    for message in texts.read(file):
        if not message.id:
            continue
        assert not message.fuzzy, message.id
        one = isinstance(message.id, str)
        asked, said = ([message.id], [message.string]) if one else (list(message.id), list(message.string))
        assert len(asked) == len(said), message.id
        assert all(said), message.id
        # A singular may leave its number out; all other forms fill in the same things.
        assert holes(said[-1]) == holes(asked[-1]), message.id
        assert set(holes(said[0])) <= set(holes(asked[-1])), message.id


def holes(text):
    return sorted(HOLE.findall(text))


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.relative_to("server/templates/web").as_posix())
def test_a_template_says_nothing_past_the_catalogue(template):
    source = SAID_ELSEWHERE.sub(" ", template.read_text(encoding="utf-8"))
    attributes = [word for text in ATTRIBUTE.findall(source) for word in WORD.findall(text)]
    words = WORD.findall(re.sub(r"&\w+;", " ", TAG.sub(" ", source)))
    assert sorted({*words, *attributes} - NO_LANGUAGE) == []
