from datetime import date

from server.editions.slots import date_of, latest_sealed_slot, next_cut_off, next_to_seal


def test_dates_of_cut_offs(sealed):
    assert latest_sealed_slot().number == 1
    assert next_cut_off(date(2031, 3, 1)) == date(2031, 4, 1)
    assert next_cut_off(date(2030, 1, 1)) == date(2031, 3, 1)
    assert date_of(next_to_seal()) == date(2031, 4, 1)
