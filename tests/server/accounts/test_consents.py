"""The text is what members agree to: a change of it that keeps its version fails here."""

import hashlib

from server.accounts.consents import CONSENT_TEXT, CONSENT_VERSION

DIGESTS = {
    1: "3020919648afa5caf402bfbec3e762cfbce565b006c7bc78cd94f9f8a57e07e1",
    2: "5677d19d54afbe94afd028df19a0e55fce3350e80b4b98dadfc4bfe4a4b5a57a",
}


def test_a_changed_text_has_a_new_version():
    assert hashlib.sha256(CONSENT_TEXT.encode()).hexdigest() == DIGESTS[CONSENT_VERSION]


def test_what_turning_a_switch_off_does_is_said():
    for said in (
        "Turning this off erases every wear",
        "takes back what has not been counted",
        "erases the wears of all",
    ):
        assert said in CONSENT_TEXT


def test_taking_back_is_said_as_it_is():
    for said in ("erased at once", "cannot be taken apart", "at most 24 editions later", "never comes back"):
        assert said in CONSENT_TEXT
