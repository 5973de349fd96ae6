"""The text is what members agree to: a change of it that keeps its version fails here."""

import hashlib

from server.accounts.consents import CONSENT_TEXT, CONSENT_VERSION

DIGESTS = {1: "3e9ebd78f11d1a5ae3f45a8020bf007d47f7d26f97017ec3481e4e4bbb090fae"}


def test_a_changed_text_has_a_new_version():
    assert hashlib.sha256(CONSENT_TEXT.encode()).hexdigest() == DIGESTS[CONSENT_VERSION]


def test_taking_back_is_said_as_it_is():
    for said in ("erased at once", "cannot be taken apart", "at most 24 editions later", "never comes back"):
        assert said in CONSENT_TEXT
