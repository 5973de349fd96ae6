import re

from server.web.qr import qr_svg


def test_it_is_drawn_in_place_without_style_or_script():
    drawn = str(qr_svg("otpauth://totp/Commonwear:quiet-otter-12345?secret=ABCDEFGH&issuer=Commonwear"))
    assert drawn.startswith("<svg")
    assert not re.search(r"style|script|href|quiet-otter", drawn)
    assert str(qr_svg("another")) != drawn
