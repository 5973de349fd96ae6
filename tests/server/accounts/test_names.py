import re

from server.accounts import names


def test_names_and_codes_can_be_copied_from_paper():
    for _ in range(200):
        assert re.fullmatch(r"[a-z]+-[a-z]+-[1-9]\d{4}", names.new_sign_in_name())
        assert re.fullmatch(r"([a-hjkmnp-z2-9]{4}-){3}[a-hjkmnp-z2-9]{4}", names.new_recovery_code())


def test_secrets_do_not_repeat():
    assert len({names.new_recovery_code() for _ in range(500)}) == 500
    assert len({names.new_token() for _ in range(500)}) == 500
    assert len(names.new_token()) >= 43  # 256 bits
