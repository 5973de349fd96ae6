import codecs

import pytest

from pooling.errors import InvalidInput
from pooling.importing.encoding import decode

# A header and a mark in each language (from memory), in the code pages that its files were kept in.
WRITTEN = {
    "de": ("Uhrzeit;Messgerät für Gewebezucker\n08:00;über 400\n", ("cp1252", "iso8859_15", "mac_roman", "cp850")),
    "fr": ("heure;glycémie au réveil, piqûre\n08:00;élevée à midi\n", ("cp1252", "iso8859_15", "mac_roman", "cp850")),
    "es": (
        "hora;punción del dedo, después\n08:00;más de 400 según el medidor, año\n",
        ("cp1252", "mac_roman", "cp850"),
    ),
    "pl": ("godzina;stężenie glukozy, źródło\n08:00;wysoki, powyżej\n", ("cp1250", "iso8859_2", "cp852")),
    "sv": ("klockslag;värde från mätare\n08:00;hög på kvällen, låg på morgonen\n", ("cp1252", "mac_roman", "cp850")),
    "pt": ("horário;medição após a refeição\n08:00;não há, coração\n", ("cp1252", "iso8859_15", "mac_roman")),
}


@pytest.mark.parametrize(
    ("language", "code_page"),
    [(language, code_page) for language, (_, code_pages) in WRITTEN.items() for code_page in code_pages],
)
def test_legacy_code_pages_are_told_apart(language, code_page):
    text = WRITTEN[language][0]
    assert decode(text.encode(code_page)) == text


@pytest.mark.parametrize("name", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_unicode_with_and_without_a_mark(name):
    text = "time;glucose\n" + "2031-03-01 08:00;112 ł\n" * 5
    assert decode(text.encode(name)) == text


def test_a_big_endian_mark():
    assert decode(codecs.BOM_UTF16_BE + "a;b".encode("utf-16-be")) == "a;b"


@pytest.mark.parametrize(
    "data",
    [b"\x00" * 50, bytes(range(256)), b"a;b\n\x00\x01;2\n", b"\x89PNG\r\n\x1a\n" + bytes(40), b"a;b\n1;\x7f\n"],
    ids=["zeros", "all bytes", "some zeros", "a picture", "delete"],
)
def test_what_is_no_text_is_refused(data):
    with pytest.raises(InvalidInput, match="CSV"):
        decode(data)


def test_a_text_that_breaks_off_is_refused():
    with pytest.raises(InvalidInput, match="UTF-16-LE"):
        decode(codecs.BOM_UTF16_LE + "time".encode("utf-16-le") + b"\x00")
