"""A square of dots that a phone's camera reads, drawn here: its content goes to nobody."""

import segno
from django.utils.safestring import SafeString, mark_safe

QUIET_ZONE = 4  # modules around it, as ISO/IEC 18004 asks


def qr_svg(content: str) -> SafeString:
    square = segno.make_qr(content, error="m")
    drawn = square.svg_inline(
        border=QUIET_ZONE, omitsize=True, dark="#000", light="#fff", svgclass="square", lineclass=None
    )
    return mark_safe(drawn)  # noqa: S308  (drawn by the library out of dots alone)  # nosec B308, B703
