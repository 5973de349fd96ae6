"""On which terms figures may be used, and how an edition is cited."""

import json
from collections.abc import Iterator
from typing import Any

from pooling.edition.document import sha256_hex

TERMS_VERSION = 1
TERMS_TEXT = "\n\n".join(
    (
        "These figures were given by people so that others can choose better where to wear a sensor. Whoever uses them "
        "agrees to this:",
        "1. Nobody is to be found again. Do not try to learn who is behind a figure, nor join these figures with "
        "anything else to that end. If you think that somebody can be recognised, tell the group and the operator of "
        "its server, and nobody else.",
        "2. Not for decisions about single people: not to give, refuse or price insurance, not to hire, pay, watch or "
        "dismiss anybody, not to show anybody advertising or to build profiles for it.",
        "3. Not for treatment. The caution goes with every figure, table and chart, wherever they go.",
        "4. Say where they come from: group, number and date of the edition, and the digest of its document. Say what "
        "you changed.",
        "Otherwise they may be read, copied, shown, printed and worked out further, free of charge and by anybody.",
    )
)


def terms_text() -> str:
    return f"Terms of use, version {TERMS_VERSION}\n\n{TERMS_TEXT}\n"


def citation_cff(document: dict[str, Any], content: bytes) -> str:
    """How the edition is cited, as a Citation File Format file of version 1.2.0.

    Source: Guide to Citation File Format schema version 1.2.0, which asks for authors, cff-version, message and title.
    """
    return "\n".join(_lines(document, content)) + "\n"


def _lines(document: dict[str, Any], content: bytes) -> Iterator[str]:
    group, number, cut_off = document["group"]["name"], document["number"], document["cut_off"]
    yield "cff-version: 1.2.0"
    yield "type: dataset"
    yield f"title: {_quoted(f'Pooled sensor wears of {group}, edition {number}')}"
    yield f"message: {_quoted('Cite the edition by its number and digest, and keep the caution with every figure.')}"
    yield "authors:"
    yield f"  - name: {_quoted(f'Members of {group}')}"
    yield f"version: {_quoted(str(number))}"
    yield f"abstract: {_quoted(f'Figures of wears given until {cut_off}. ' + document['caution']['short'])}"
    yield "identifiers:"
    yield "  - type: other"
    yield f"    value: {_quoted(f'sha256:{sha256_hex(content)}')}"
    yield "    description: digest of the canonical document"


def _quoted(text: str) -> str:
    """A text as YAML 1.2 reads it: a JSON string is one."""
    return json.dumps(text, ensure_ascii=False)
