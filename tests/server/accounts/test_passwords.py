import pytest
from django.contrib.auth.password_validation import CommonPasswordValidator, validate_password
from django.core.exceptions import ValidationError

from server.accounts.models import Account

ACCOUNT = Account(sign_in_name="quiet-otter-12345")


@pytest.mark.parametrize("password", ["aaaaaaaaaaaaaaaa", "abababababab", "my quiet-otter-12345", "eleven char", ""])
def test_what_is_easy_to_guess_is_refused(password):
    with pytest.raises(ValidationError):
        validate_password(password, ACCOUNT)


def test_long_entries_of_the_common_list_are_refused():
    listed = next(
        word for word in sorted(CommonPasswordValidator().passwords) if len(word) >= 12 and len(set(word)) > 5
    )
    with pytest.raises(ValidationError, match="too common"):
        validate_password(listed, ACCOUNT)


# ASVS 5.0, 6.2.5: any composition is allowed; 6.2.9: at least 64 characters are.
@pytest.mark.parametrize("password", ["onlylowerletters", "дванадцять літер", "w" * 10 + "ords" * 30])
def test_any_composition_of_twelve_characters_is_taken(password):
    validate_password(password, ACCOUNT)
