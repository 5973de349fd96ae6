"""Terms of use and how to cite."""

import json

from pooling.edition import canonical_bytes, sha256_hex
from pooling.edition.terms import citation_cff, terms_text


def read_yaml(text):
    """The little YAML that the file uses: keys of one level, lists of one mapping, JSON strings and bare words."""
    found: dict = {}
    for line in text.splitlines():
        key, _, value = line.strip().removeprefix("- ").partition(":")
        value = value.strip()
        value = json.loads(value) if value.startswith('"') else value
        if not line.startswith(" "):
            found[key] = value or [{}]
            last = key
        else:
            found[last][0][key] = value
    return found


def test_the_terms_refuse_what_must_not_be_done_with_people_s_figures():
    text = terms_text()
    for refused in ("who is behind a figure", "insurance", "hire", "advertising", "treatment"):
        assert refused in text


def test_the_citation_has_what_the_format_asks_for(document):
    # Guide to Citation File Format schema version 1.2.0: authors, cff-version, message and title are required.
    content = canonical_bytes(document)
    cited = read_yaml(citation_cff(document, content))
    assert cited["cff-version"] == "1.2.0"
    assert cited["type"] == "dataset"
    assert cited["title"] == "Pooled sensor wears of Hill walkers, edition 7"
    assert cited["authors"] == [{"name": "Members of Hill walkers"}]
    assert cited["identifiers"][0]["value"] == f"sha256:{sha256_hex(content)}"
    assert document["caution"]["short"] in cited["abstract"]
    assert cited["message"]


def test_a_name_with_signs_of_the_format_stays_a_name(document):
    document["group"]["name"] = 'Ös: "tide" # 7\n- x: y'
    cited = read_yaml(citation_cff(document, canonical_bytes(document)))
    assert cited["authors"] == [{"name": f"Members of {document['group']['name']}"}]
