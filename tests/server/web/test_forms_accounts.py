from server.web.forms_accounts import JoinForm, SignInForm


def test_a_password_is_taken_as_it_was_typed_and_never_sent_back():
    form = SignInForm({"sign_in_name": " Quiet-Otter-12345 ", "password": "  spaces count  "})
    assert form.is_valid()
    assert form.cleaned_data["password"] == "  spaces count  "
    assert "spaces count" not in form.as_p()


def test_browsers_and_keepers_of_passwords_are_told_what_each_field_is():
    page = SignInForm().as_p() + JoinForm().as_p()
    for word in ("username", "current-password", "one-time-code", "new-password"):
        assert f'autocomplete="{word}"' in page
