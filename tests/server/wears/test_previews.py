import json

import pytest

from fixtures.exports.make import workbooks
from server.accounts.selectors import wearer_of
from server.accounts.services import remember_mapping
from server.core.errors import Invalid
from server.wears.previews import File, preview_of_exports, preview_of_record
from tests.server.exports import OF_THE_RECORD, TIMES, meter_export, sensor_export
from tests.server.records import raw

pytestmark = pytest.mark.django_db

TOLD = {"answers": TIMES | {"prompt": "scheduled"}, "record": OF_THE_RECORD}


@pytest.fixture
def look(contributor, catalogue):
    wearer = wearer_of(contributor.account, None)

    def look(*files, **told):
        sent = [File(data, "") for data in files]
        return preview_of_exports(sent, json.dumps(TOLD | told).encode(), account=contributor.account, wearer=wearer)

    return look


def test_a_file_shows_nothing_of_itself():
    assert repr(File(b"217.31", "my week.csv")) == "File()"


def test_a_workbook_with_several_sheets_is_asked_about_in_its_place(look):

    found = look(workbooks()["sensor-and-meter.xlsx"], meter_export())
    assert [each is None for each in found["exports"]] == [True, False]
    (question,) = [each for each in found["questions"] if each["code"] == "sheet"]
    assert (question["export"], question["options"]) == (0, ("Notes", "Sensor", "Meter"))


def test_the_same_layout_is_known_again_whatever_stands_before_its_table(look, contributor):
    mapping = look(sensor_export(), meter_export())["exports"][0]["mapping"]
    remember_mapping(contributor.account, mapping)
    found = look(b"An export;\n\n" + sensor_export(), meter_export())
    assert [each["remembered"] for each in found["exports"]] == [True, False]
    assert found["exports"][0]["mapping"]["header_line"] == 3
    plain = look(sensor_export(), meter_export())
    assert found["wears"][0]["record"]["pairs"] == plain["wears"][0]["record"]["pairs"]


def test_a_table_with_another_number_of_columns_is_another_layout(look, contributor):
    mapping = look(sensor_export(), meter_export())["exports"][0]["mapping"]
    remember_mapping(contributor.account, mapping | {"roles": [*mapping["roles"], "ignored"]})
    assert not look(sensor_export(), meter_export())["exports"][0]["remembered"]


def test_a_file_that_cannot_be_read_is_refused_whether_anything_is_remembered_or_not(look, contributor):
    for _ in range(2):
        with pytest.raises(Invalid) as refusal:
            look(sensor_export(), b"words")
        assert refusal.value.faults[0]["pointer"] == "#/file/1"
        remember_mapping(contributor.account, look(sensor_export(), meter_export())["exports"][0]["mapping"])


def test_a_record_is_looked_at_with_its_findings(contributor, catalogue):
    found = preview_of_record(raw(n_pairs=3), account=contributor.account, wearer=wearer_of(contributor.account, None))
    (wear,) = found["wears"]
    assert [finding["code"] for finding in wear["findings"]] == ["too_few_pairs"]
    assert wear["record"]["pairs"][0]["reference"]
