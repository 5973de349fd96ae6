"""Bearer tokens, and whose request it is."""

from typing import TYPE_CHECKING

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.request import Request

from server.accounts.selectors import account_for_token
from server.core.errors import Unauthorised

if TYPE_CHECKING:
    from server.accounts.models import Account

Found = tuple[object, str]


class MemberRequest(Request):
    """A request as views get it that ask for a token: by somebody."""

    user: "Account"


class BearerAuthentication(BaseAuthentication):
    """`Authorization: Bearer <token>`; the token itself is `request.auth`."""

    def authenticate(self, request: Request) -> Found | None:
        words = get_authorization_header(request).split()
        if not words or words[0].lower() != b"bearer":
            return None
        token = words[1].decode("ascii", "replace") if len(words) == 2 else ""
        account = account_for_token(token)
        if account is None:
            raise Unauthorised("The token is unknown or has expired. Sign in again with POST /api/v1/tokens/.")
        return account, token

    def authenticate_header(self, request: Request) -> str:
        return "Bearer"


class BearerScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = BearerAuthentication
    name = "bearer"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}
