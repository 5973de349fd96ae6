import json

from pooling.caution import CAUTION_SHORT
from pooling.columns import columns_from
from pooling.record import record_from
from pooling.report import wear_report


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_report_in_the_records_own_unit(commonwear, write, good_record):
    ended = commonwear("report", write(good_record))
    assert ended.code == 0
    assert "What one wear on the flank says" in ended.out
    assert "sensor and fingerstick were 12 mg/dL apart on average" in flat(ended.out)
    assert CAUTION_SHORT in flat(ended.out)
    assert max(map(len, ended.out.splitlines())) <= 80


def test_the_report_in_the_other_unit_however_it_is_typed(commonwear, write, good_record):
    ended = commonwear("report", write(good_record), "--unit", "MMOL/l")
    assert "sensor and fingerstick were 0.7 mmol/L apart" in flat(ended.out)


def test_a_unit_that_is_none_is_a_mistake_in_the_command(commonwear, write, good_record):
    assert commonwear("report", write(good_record), "--unit", "g/L").code == 2


def test_json_is_the_report_itself(commonwear, write, good_record):
    ended = commonwear("report", write(good_record), "--json")
    record = record_from(good_record)
    assert ended.json == json.loads(json.dumps(wear_report(columns_from(record), record)))
    assert CAUTION_SHORT in flat(ended.err)


def test_page_and_picture_are_written_and_named(commonwear, write, good_record, tmp_path):
    page, picture = tmp_path / "wear.html", tmp_path / "wear.png"
    ended = commonwear("report", write(good_record), "--html", page, "--png", picture)
    assert ended.code == 0
    assert "<svg" in page.read_text(encoding="utf-8")
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert "wear.html" in ended.err
    assert "wear.png" in ended.err


def test_a_wear_without_pairs_has_a_report_and_a_page_without_a_picture(commonwear, write, good_record, tmp_path):
    page = tmp_path / "wear.html"
    ended = commonwear("report", write(good_record | {"pairs": []}), "--html", page)
    assert ended.code == 0
    assert "There is no pair to measure" in ended.out
    assert "<svg" not in page.read_text(encoding="utf-8")


def test_findings_stand_in_the_report(commonwear, write, good_record):
    assert "Worth knowing: 5 pairs can be counted." in commonwear("report", write(good_record)).out


def test_an_invalid_record_has_no_report(commonwear, write, good_record):
    ended = commonwear("report", write(good_record | {"site": "thigh"}), "--json")
    assert (ended.code, ended.out) == (1, "")
    assert "site (#/site)" in ended.err


def test_a_place_that_cannot_be_written_is_named(commonwear, write, good_record, tmp_path):
    ended = commonwear("report", write(good_record), "--png", tmp_path / "absent" / "wear.png")
    assert ended.code == 3
    assert "Choose another place" in flat(ended.err)
