from server.core.checks import operator_is_named


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
