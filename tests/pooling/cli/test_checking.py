import pytest

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT


def flat(text: str) -> str:
    return " ".join(text.split())


def test_a_good_record_passes(commonwear, write, wear):
    ended = commonwear("check", write(wear))
    assert ended.code == 0
    assert "a valid wear record" in ended.out
    assert "Nothing looks odd." in ended.out
    assert CAUTION_SHORT in flat(ended.out)


def test_faults_are_named_where_they_are_and_what_is_wrong_everywhere_is_said_once(commonwear, write, wear):
    wear["site"] = "thigh"
    for pair in wear["pairs"]:
        pair["prompt"] = "lunch"
    ended = commonwear("check", write(wear))
    assert ended.code == 1
    assert "not a valid wear record, 41 faults" in ended.out
    assert "site (#/site)\n    choose one of" in ended.out
    assert "pair 1, prompt (#/pairs/0/prompt), and 39 more places" in flat(ended.out)
    assert ended.out.count("scheduled") == 1


def test_no_reading_is_repeated(commonwear, write, wear):
    wear["pairs"][0] |= {"reference": 7654.25, "sensor": 8765.25}
    ended = commonwear("check", write(wear))
    assert ended.code == 1
    assert "7654" not in ended.out + ended.err
    assert "8765" not in ended.out + ended.err


def test_a_finding_that_says_stop_ends_with_one(commonwear, write, wear):
    for pair in wear["pairs"]:
        pair |= {"sensor": pair["reference"], "sensor_mark": None}
    ended = commonwear("check", write(wear))
    assert ended.code == 1
    assert "Stop: Sensor and fingerstick are the same in nearly every pair." in flat(ended.out)


def test_a_finding_worth_knowing_does_not(commonwear, write, wear):
    del wear["pairs"][4:]
    ended = commonwear("check", write(wear))
    assert ended.code == 0
    assert "Worth knowing: 4 pairs can be counted." in ended.out


@pytest.mark.parametrize(
    "content", [b"", b"\xff\xfe", b"{", b"[" * 100_000, b"null"], ids=["0", "nul", "cut", "deep", "null"]
)
def test_what_is_no_record_at_all_is_said_so(commonwear, write, content):
    ended = commonwear("check", write(content))
    assert ended.code == 1
    assert "the whole file (#)" in ended.out


def test_of_several_files_each_is_looked_at_and_the_highest_code_counts(commonwear, write, wear, tmp_path):
    good, bad = write(wear), write(wear | {"site": "thigh"}, "bad.json")
    ended = commonwear("check", bad, tmp_path / "absent.json", good)
    assert ended.code == 3
    assert "absent.json: no such file or directory." in flat(ended.err)
    assert f"{good}: a valid wear record" in flat(ended.out)


def test_json_has_standard_output_to_itself(commonwear, write, wear):
    ended = commonwear("check", "--json", write(wear | {"site": "thigh"}))
    assert ended.code == 1
    [checked] = ended.json["files"]
    assert checked["valid"] is False
    assert [(fault["pointer"], fault["code"]) for fault in checked["faults"]] == [("#/site", "enum")]
    assert ended.json["caution"]["text"] == CAUTION_TEXT
    assert "not a valid wear record" in ended.err


def test_an_export_is_told_where_to_go(commonwear, write):
    ended = commonwear("check", write(b"time,reading\n2031-02-10 08:30,112\n", "trace.csv"))
    assert ended.code == 1
    assert "make a record of it first: commonwear prepare trace.csv" in flat(ended.out)
