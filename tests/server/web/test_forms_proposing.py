from decimal import Decimal

from django.utils.translation import override

from server.web.forms_proposing import ProposalForm


def test_sites_for_children_alone_are_told_as_such():
    form = ProposalForm({"slug": "dune-c7", "rated_life_days": "7", "children": ["calf"]})
    assert form.is_valid()
    assert form.facts["licensed"] == {"calf": "child"}


def test_a_number_is_taken_as_the_reader_s_language_writes_it():
    for language, typed in (("en-gb", "10.5"), ("de", "10,5"), ("de", "10.5")):
        with override(language):
            form = ProposalForm({"slug": "dune-c7", "rated_life_days": typed, "adults": ["calf"]})
            assert form.is_valid(), (language, typed)
            assert form.cleaned_data["rated_life_days"] == Decimal("10.5")
