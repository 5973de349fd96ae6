from server.web.forms_groups import InvitationForm


def test_a_code_is_taken_without_the_spaces_around_it():
    form = InvitationForm({"slug": "harbour", "invitation": " abc "})
    assert form.is_valid()
    assert form.code == "abc"
    assert "short name" in InvitationForm({}).errors["slug"][0]
