"""The drawing of an edition by what a reader asks to see."""

import copy

import pytest

from pooling.edition import assemble
from server.web import colouring
from tests.pooling.conftest import make_context, make_fit, make_outcomes


@pytest.fixture(scope="module")
def document():
    return assemble(make_fit(), make_context(), make_outcomes())


def drawn(document, asked=None):
    return colouring.drawing(document, asked, "/sites/{}/".format)


def steps(shown):
    return {region.patch.site: region.step for region in shown["drawing"].regions if region.step}


def test_accuracy_comes_first_and_stands_in_for_what_nobody_knows(document):
    assert steps(drawn(document)) == steps(drawn(document, "accuracy")) == steps(drawn(document, "weight"))
    assert [way.name for way in drawn(document)["ways"] if way.chosen] == ["accuracy"]


@pytest.mark.parametrize("name", ["stays_on", "skin", "comfort"])
def test_each_site_with_a_figure_has_its_step_and_says_it(document, name):
    shown = drawn(document, name)
    rows = colouring.rows_of(document, name)
    assert set(steps(shown)) <= set(rows)
    assert steps(shown)
    says = next(region.says for region in shown["drawing"].regions if region.step)
    assert any(character.isdigit() for character in says)
    assert [way.name for way in shown["ways"] if way.chosen] == [name]


def test_what_has_no_figures_cannot_be_asked_for(document):
    bare = copy.deepcopy(document)
    bare["tables"] |= {"survival": [], "skin": [], "ratings": []}
    assert drawn(bare, "skin")["ways"] == []
    assert steps(drawn(bare, "skin")) == steps(drawn(bare))
