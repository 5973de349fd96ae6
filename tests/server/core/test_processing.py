import pytest
from django.core.management import call_command

from server.core.processing import TO_FILL, impact_assessment, particulars, processing_record, telling_fields
from server.core.register import DataClass, every_field

SAID = {
    "controller": "Harbour Society",
    "contact": "data@society.example",
    "country": "Lakeland",
    "legal_basis": "explicit consent",
    "minors": "with-guardian",
}
# Headings of articles 30(1)(a) to (g) and 35(7)(a) to (d) of the General Data Protection Regulation, from memory.
RECORD = ("Controller", "Purposes", "Whose data", "who receives them", "Transfers", "erased", "Measures")
ASSESSMENT = ("What is done, and what for", "needed and in proportion", "Risks to members", "Measures")


@pytest.mark.parametrize(("paper", "headings"), [(processing_record, RECORD), (impact_assessment, ASSESSMENT)])
def test_a_paper_has_what_the_law_asks_for_and_who_answers(settings, paper, headings):
    settings.OPERATOR = SAID
    text = paper()
    heads = "\n".join(line for line in text.splitlines() if line.startswith("#"))
    assert all(heading in heads for heading in headings)
    assert all(said in text for name, said in SAID.items() if name != "minors")
    assert "wears of children are taken" in text
    assert TO_FILL in text


@pytest.mark.parametrize("paper", [processing_record, impact_assessment])
def test_every_field_that_tells_of_a_person_is_in_it_with_its_purpose(paper):
    text = paper()
    for app, fields in telling_fields().items():
        for name, field in fields.items():
            assert f"| {app}.{name} | {field.purpose} | {field.reader} | {field.retention} |" in text


def test_what_tells_of_nobody_is_not():
    assert {"wears", "accounts"} <= set(telling_fields())
    classes = {field.data_class for fields in telling_fields().values() for field in fields.values()}
    assert classes == {DataClass.HEALTH, DataClass.IDENTIFYING}
    assert sum(map(len, telling_fields().values())) < sum(map(len, every_field().values()))


def test_what_nobody_has_said_is_left_to_be_filled_in(settings):
    settings.OPERATOR = dict.fromkeys(SAID)
    assert [said for _, said in particulars()] == [""] * 5
    assert processing_record().count(TO_FILL) == 5 + 3


@pytest.mark.parametrize("paper", ["record", "assessment"])
def test_the_command_prints_it(paper, capsys):
    call_command("processing", paper)
    assert capsys.readouterr().out.startswith("# ")
