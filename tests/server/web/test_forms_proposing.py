from server.web.forms_proposing import ProposalForm


def test_sites_for_children_alone_are_told_as_such():
    form = ProposalForm({"slug": "dune-c7", "rated_life_days": "7", "children": ["calf"]})
    assert form.is_valid()
    assert form.facts["licensed"] == {"calf": "child"}
