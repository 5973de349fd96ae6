"""What a password may not be, beyond its length and the common list."""

from typing import Any

from django.core.exceptions import ValidationError

FEWEST_DIFFERENT = 5


class EasyToGuessValidator:
    """Refuse passwords made of a few characters over and over, or that contain the sign-in name."""

    def validate(self, password: str, user: Any = None) -> None:
        if len(set(password)) < FEWEST_DIFFERENT:
            raise ValidationError("Use more different characters; four ordinary words in a row do well.")
        name = getattr(user, "sign_in_name", None)
        if name and name.lower() in password.lower():
            raise ValidationError("Leave the sign-in name out of the password.")

    def get_help_text(self) -> str:
        return "At least twelve characters; four ordinary words in a row do well."
