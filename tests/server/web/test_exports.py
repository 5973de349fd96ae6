import base64
import zlib

import pytest
from django.http import QueryDict
from django.test import RequestFactory

from server.core.errors import Invalid
from server.web import exports

MAPPING = '{"kind": "meter", "roles": ["moment", "glucose"], "glucose_unit": null}'
PACKED = base64.b64encode(zlib.compress(b"a;b")).decode()


def sent(**told):
    request = RequestFactory().post("/", {"packed-0": PACKED, "name-0": "x", "mapping-0": MAPPING} | told)
    return exports.read_round(request)


def test_a_file_comes_back_as_it_was_sent():
    assert sent().files[0].file.data == b"a;b"


def test_corrections_go_into_the_mapping_and_roles_say_what_a_table_holds():
    mapping = sent(**{"role-0-1": "sensor", "glucose_unit-0": "mmol/L"}).files[0].mapping
    assert (mapping["roles"], mapping["kind"], mapping["glucose_unit"]) == (["moment", "sensor"], "sensor", "mmol/L")


def test_answers_add_up_and_a_later_one_holds():
    first = sent(inserted="2031-01-17T08:00:00", apply_offset="yes")
    later = sent(answers=first.answers_json, inserted_other="2031-01-18T08:00", prompt="scheduled", apply_offset="no")
    assert later.answers == {"inserted": "2031-01-18T08:00", "apply_offset": False, "prompt": "scheduled"}


def test_a_length_of_thousands_of_digits_is_cut_short():
    assert sent(worn_min="20010").answers == {"worn_min": 20010}
    assert sent(worn_min="9" * 5000).answers == {"worn_min": 999_999_999}


def test_a_table_with_several_wears_has_several_insertions():
    answers = sent(inserted_other="2031-01-17T08:00, 2031-02-01T09:30").answers
    assert answers == {"inserted": "2031-01-17T08:00", "further_inserted": ["2031-02-01T09:30"]}


def test_what_would_grow_beyond_what_may_be_sent_is_refused(settings):
    settings.LARGEST_BODY_BYTES = 1000
    bomb = base64.b64encode(zlib.compress(bytes(5000))).decode()
    with pytest.raises(Invalid):
        _ = sent(**{"packed-0": bomb}).files[0].file


@pytest.mark.parametrize("mapping", ["{", "[1]", "3", ""])
def test_a_mapping_that_was_tampered_with_is_passed_over_or_refused(mapping):
    held = list(exports._held(QueryDict(mutable=True) | {"packed-0": PACKED, "mapping-0": mapping}))
    assert held[0].mapping is None
