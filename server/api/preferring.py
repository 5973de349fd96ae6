"""What a request would rather have, in the header Prefer (RFC 7240)."""

from rest_framework.request import Request

MINIMAL = "return=minimal"
QUOTED = ' \t"'


def prefers(request: Request, preference: str) -> bool:
    """Whether a preference is stated as `name=value`; of several with one name the first counts (RFC 7240, 2)."""
    stated = [_plain(each) for each in request.headers.get("Prefer", "").split(",")]
    name = preference.partition("=")[0]
    return next((each for each in stated if each.partition("=")[0] == name), None) == preference


def _plain(stated: str) -> str:
    """`name=value` without parameters, blanks and quotation marks."""
    name, _, value = stated.partition(";")[0].partition("=")
    return f"{name.strip().lower()}={value.strip(QUOTED)}"
