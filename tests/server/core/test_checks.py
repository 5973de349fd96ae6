from dataclasses import replace

from server.core.checks import marks_are_known_again, operator_is_named


def test_on_loopback_nobody_need_be_named(settings):
    settings.PUBLIC = False
    assert operator_is_named(None) == []


def test_a_public_start_needs_every_particular(settings):
    settings.PUBLIC = True
    settings.OPERATOR = settings.OPERATOR | {"controller": "A Society", "contact": "post@society.example"}
    faults = operator_is_named(None)
    assert [fault.level for fault in faults] == [40, 40, 40]
    assert {word for fault in faults for word in fault.msg.split() if word.startswith("COMMONWEAR_")} == {
        "COMMONWEAR_COUNTRY",
        "COMMONWEAR_LEGAL_BASIS",
        "COMMONWEAR_MINORS",
    }


def test_a_second_key_stops_the_start_until_marks_can_be_carried_over(settings):
    assert marks_are_known_again(None) == []
    settings.KEYS = replace(settings.KEYS, mac_keys=(*settings.KEYS.mac_keys, "77" * 32))
    assert [fault.id for fault in marks_are_known_again(None)] == ["commonwear.E010"]
