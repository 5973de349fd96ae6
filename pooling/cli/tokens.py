"""The member's token: in the environment for one run, or kept by the system's keyring for each server."""

import os

import keyring
from keyring.errors import KeyringError

VARIABLE = "COMMONWEAR_TOKEN"
KEPT_AS = "commonwear"


def token_for(address: str) -> str | None:
    """The token to use: that of the environment before that of the keyring."""
    given = os.environ.get(VARIABLE, "").strip()
    if given:
        return given
    try:
        return keyring.get_password(KEPT_AS, address)
    except KeyringError:
        return None


def keep(address: str, token: str) -> bool:
    """Give a token to the keyring; False where the system has none."""
    try:
        keyring.set_password(KEPT_AS, address, token)
    except KeyringError:
        return False
    return True


def forget(address: str) -> None:
    """Take the token out of the keyring, if there is one."""
    try:
        keyring.delete_password(KEPT_AS, address)
    except KeyringError:
        return
