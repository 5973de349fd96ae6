"""Catalogues of texts: compiled from the files that people edit, and again when those change."""

import gettext
from pathlib import Path

import pytest

from server.core import texts

HEAD = """msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"

"""


@pytest.fixture
def locale(tmp_path: Path) -> Path:
    write(tmp_path, 'msgid "Site"\nmsgstr "Stelle"\n')
    return tmp_path


def write(locale: Path, entries: str) -> None:
    file = locale / "de" / "LC_MESSAGES" / "django.po"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(HEAD + entries, encoding="utf-8")


def test_a_catalogue_is_compiled_once_and_again_when_its_words_change(locale):
    assert texts.compile_stale(locale) == [locale / "de" / "LC_MESSAGES" / "django.mo"]
    assert texts.compile_stale(locale) == texts.stale(locale) == []
    write(locale, 'msgid "Site"\nmsgstr "Tragestelle"\n')
    assert len(texts.stale(locale)) == 1
    texts.compile_stale(locale)
    assert gettext.translation("django", locale, ["de"]).gettext("Site") == "Tragestelle"


def test_what_is_compiled_reads_as_the_standard_library_reads_it(locale):
    write(locale, 'msgid "%(n)d day"\nmsgid_plural "%(n)d days"\nmsgstr[0] "%(n)d Tag"\nmsgstr[1] "%(n)d Tage"\n')
    texts.compile_stale(locale)
    german = gettext.translation("django", locale, ["de"])
    assert [german.ngettext("%(n)d day", "%(n)d days", n) % {"n": n} for n in (0, 1, 2)] == [
        "0 Tage",
        "1 Tag",
        "2 Tage",
    ]


def test_texts_are_found_in_templates_and_in_code():
    found = texts.extracted("django")
    assert "The whole caution" in found
    assert ("{n} thing", "{n} things") not in found
    assert "One thing to put right" in found
    assert found["One thing to put right"].id == ("One thing to put right", "%(n)s things to put right")


def test_a_catalogue_that_is_brought_up_keeps_what_was_said_and_drops_what_is_gone(locale):
    file = locale / "de" / "LC_MESSAGES" / "django.po"
    write(locale, 'msgid "The whole caution"\nmsgstr "Der ganze Hinweis"\n\nmsgid "Gone"\nmsgstr "Fort"\n')
    brought_up = texts.update(file)
    assert brought_up["The whole caution"].string == "Der ganze Hinweis"
    assert "Gone" not in texts.read(file)
    assert "Fort" not in file.read_text(encoding="utf-8")
