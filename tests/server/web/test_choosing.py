"""What matters to a reader: read from the address, weighed by the edition, kept nowhere."""

import re

import pytest

from server.web import choosing

CHOICE = "/groups/hill-walkers/choice/"


@pytest.mark.parametrize(
    ("asked", "weights"),
    [
        ({}, choosing.AT_FIRST),
        ({"skin": "4", "ease": "0"}, {"skin": 4, "ease": 0}),
        ({"skin": "4", "ease": "3", "nonsense": "1", "comfort": "-1"}, {"skin": 4}),
        ({"skin": "much"}, choosing.AT_FIRST),
        ({"skin": "9" * 5000, "ease": "2"}, {"ease": 2}),
    ],
)
def test_weights_come_from_the_address(asked, weights):
    assert choosing.weights_asked(asked) == weights


def test_every_criterion_is_asked_for_by_a_name_and_told_what_it_is_counted_against():
    asked = choosing.questions({"skin": 4})
    assert {question.name: question.weight for question in asked if question.weight} == {"skin": 4}
    assert all(question.label and question.swing for question in asked)


def test_sites_stand_by_their_chance_and_as_the_service_s_own_answer_has_it(client, api, edition):
    page = client.get(CHOICE, {"accuracy": "2", "skin": "1"}).content.decode()
    answer = api.post(
        "/api/v1/groups/hill-walkers/choice/", {"weights": {"accuracy": 2, "skin": 1}}, format="json"
    ).json()
    rows = re.findall(r'data-label="Serves best">(\d+)<', page)
    assert rows == [f"{100 * site['p_best_frac']:.0f}" for site in answer["sites"]]
    assert "That says nothing against them." in page
    assert "10 points less expected difference" in page


def test_weights_of_nothing_are_answered_in_words(client, edition):
    answer = client.get(CHOICE, {"accuracy": "0"})
    assert answer.status_code == 422
    assert "give at least one criterion a weight above 0" in answer.content.decode()


def test_a_group_without_figures_has_no_such_page(client, group):
    assert client.get("/groups/harbour/choice/").status_code == 404
