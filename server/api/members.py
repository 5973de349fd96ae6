"""Joining, signing in and out, consent, wearers, and leaving; the words of the trade and the API's own description."""

from typing import Any

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularJSONAPIView
from rest_framework import serializers, status
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts import selectors, services
from server.accounts.agreements import record_consent
from server.accounts.consents import CONSENT_TEXT, CONSENT_VERSION
from server.api.authentication import MemberRequest
from server.api.schema import refuses
from server.core.addresses import client_address
from server.core.errors import TooMany, Unauthorised
from server.core.notices import all_notices, standing_notices
from server.core.selectors import vocabulary


class StrictSerializer(serializers.Serializer[Any]):
    """Refuses what it does not know, by name."""

    refuses_unknown = True

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, dict):
            unknown = sorted(set(data) - set(self.fields))
            if unknown:
                raise serializers.ValidationError({name: ["There is no such field."] for name in unknown})
        return super().to_internal_value(data)


class PasswordField(serializers.CharField):
    """A password as it was typed: spaces at its ends belong to it."""

    def __init__(self, **more: Any) -> None:
        super().__init__(max_length=200, trim_whitespace=False, **more)


class NewMemberSerializer(StrictSerializer):
    password = PasswordField(help_text="At least twelve characters.")
    consent_version = serializers.IntegerField(help_text="The version of the consent text that was read.")
    scopes = serializers.DictField(
        child=serializers.BooleanField(),
        help_text="The switches of the consent text: keep and pool, each true or false.",
    )
    invitation = serializers.CharField(
        max_length=60,
        required=False,
        allow_blank=True,
        help_text="Where joining needs one: the operator's, or one to a group, which lets you into that group too.",
    )


class JoinedSerializer(serializers.Serializer[Any]):
    sign_in_name = serializers.CharField()
    recovery_codes = serializers.ListField(child=serializers.CharField(), help_text="Shown once. Write them down.")


ONE_TIME_CODE = "Where a second factor is on: the six digits of your authenticator app, or a recovery code."


class SignInSerializer(StrictSerializer):
    sign_in_name = serializers.CharField(max_length=60)
    password = PasswordField()
    one_time_code = serializers.CharField(max_length=40, required=False, allow_blank=True, help_text=ONE_TIME_CODE)


class RecoverySerializer(StrictSerializer):
    sign_in_name = serializers.CharField(max_length=60)
    recovery_code = serializers.CharField(max_length=40)
    password = PasswordField(help_text="The new password.")
    one_time_code = serializers.CharField(max_length=40, required=False, allow_blank=True, help_text=ONE_TIME_CODE)


class NoticeSerializer(serializers.Serializer[Any]):
    posted_on = serializers.DateField()
    withdrawn_on = serializers.DateField(allow_null=True)
    text = serializers.CharField()


class NoticesSerializer(serializers.Serializer[Any]):
    notices = NoticeSerializer(many=True)


class TokenSerializer(serializers.Serializer[Any]):
    token = serializers.CharField(help_text="Send it as Authorization: Bearer …")
    consents_due = serializers.ListField(
        child=serializers.CharField(), help_text="Switches to be turned on again, since their text has changed."
    )
    notices = NoticeSerializer(many=True, help_text="What the operator has to tell everybody now.")


class ConsentSerializer(StrictSerializer):
    scope = serializers.CharField()
    text_version = serializers.IntegerField()
    given = serializers.BooleanField()
    on = serializers.DateField(read_only=True)
    chain_hash = serializers.CharField(read_only=True, help_text="Over this entry and the hash of the one before.")


class ConsentsSerializer(serializers.Serializer[Any]):
    text = serializers.CharField()
    text_version = serializers.IntegerField()
    given = ConsentSerializer(many=True)
    due = serializers.ListField(
        child=serializers.CharField(), help_text="Switches to be turned on again, since the text has changed."
    )
    whole = serializers.BooleanField(help_text="Whether each entry follows from the one before it.")


class WearerSerializer(StrictSerializer):
    id = serializers.UUIDField(read_only=True)
    relation = serializers.CharField(help_text="self, child or other")
    age_class = serializers.CharField(help_text="adult or child")
    of_age_month = serializers.DateField(
        required=False, allow_null=True, help_text="For a child: any day of the month in which it comes of age."
    )
    guardian = serializers.BooleanField(
        required=False, write_only=True, help_text="For a child: true, if you may decide for it as parent or guardian."
    )


class WearersSerializer(serializers.Serializer[Any]):
    wearers = WearerSerializer(many=True)


def checked(serializer: type[StrictSerializer], request: Request) -> dict[str, Any]:
    filled = serializer(data=request.data)
    filled.is_valid(raise_exception=True)
    return dict(filled.validated_data)


class Members(APIView):
    permission_classes = (AllowAny,)
    authentication_classes = ()

    @extend_schema(operation_id="member_join", request=NewMemberSerializer, responses={201: JoinedSerializer}, auth=[])
    @refuses(TooMany)
    def post(self, request: Request) -> Response:
        """Join. The service makes up a sign-in name; no e-mail and no name is asked for."""
        joined = services.join(**checked(NewMemberSerializer, request), address=client_address(request))
        return Response(JoinedSerializer(joined).data, status.HTTP_201_CREATED)


def _signed_in(token: str) -> dict[str, Any]:
    account = selectors.account_for_token(token)
    due = [] if account is None else selectors.consents_due(account)
    return dict(TokenSerializer({"token": token, "consents_due": due, "notices": standing_notices()}).data)


class Notices(APIView):
    permission_classes = (AllowAny,)
    authentication_classes = ()

    @extend_schema(operation_id="notices_read", responses=NoticesSerializer, auth=[])
    def get(self, _request: Request) -> Response:
        """Read what the operator has had to tell everybody, the newest first."""
        return Response(NoticesSerializer({"notices": all_notices()}).data)


class Tokens(APIView):
    permission_classes = (AllowAny,)
    authentication_classes = ()

    @extend_schema(operation_id="token_make", request=SignInSerializer, responses={201: TokenSerializer}, auth=[])
    @refuses(Unauthorised, TooMany)
    def post(self, request: Request) -> Response:
        """Sign in for a bearer token."""
        token = services.sign_in(**checked(SignInSerializer, request), address=client_address(request))
        return Response(_signed_in(token), status.HTTP_201_CREATED)


class Recovery(APIView):
    permission_classes = (AllowAny,)
    authentication_classes = ()

    @extend_schema(operation_id="token_recover", request=RecoverySerializer, responses={201: TokenSerializer}, auth=[])
    @refuses(Unauthorised, TooMany)
    def post(self, request: Request) -> Response:
        """Set a new password with a recovery code, which is then used up."""
        token = services.recover(**checked(RecoverySerializer, request), address=client_address(request))
        return Response(_signed_in(token), status.HTTP_201_CREATED)


class CurrentToken(APIView):
    @extend_schema(operation_id="token_end", responses={204: None})
    def delete(self, request: Request) -> Response:
        """Sign out: the token that made this call ends."""
        services.sign_out(str(request.auth))
        return Response(status=status.HTTP_204_NO_CONTENT)


class Consents(APIView):
    @extend_schema(operation_id="consents_read", responses=ConsentsSerializer)
    def get(self, request: MemberRequest) -> Response:
        """Read the consent text and what you have agreed to."""
        given = selectors.consents_of(request.user)
        content = {
            "text": CONSENT_TEXT,
            "text_version": CONSENT_VERSION,
            "given": given,
            "due": selectors.consents_due(request.user),
            "whole": selectors.is_whole(given),
        }
        return Response(ConsentsSerializer(content).data)

    @extend_schema(operation_id="consent_record", request=ConsentSerializer, responses={201: ConsentSerializer})
    def post(self, request: MemberRequest) -> Response:
        """Turn one switch on or off.

        Turning keep off erases every wear you hold, at once; turning guardian off erases those of your children.
        """
        consent = record_consent(request.user, **checked(ConsentSerializer, request))
        return Response(ConsentSerializer(consent).data, status.HTTP_201_CREATED)


class Wearers(APIView):
    @extend_schema(operation_id="wearers_read", responses=WearersSerializer)
    def get(self, request: MemberRequest) -> Response:
        """List the people you keep wears for."""
        return Response(WearersSerializer({"wearers": selectors.wearers_of(request.user)}).data)

    @extend_schema(operation_id="wearer_add", request=WearerSerializer, responses={201: WearerSerializer})
    def post(self, request: MemberRequest) -> Response:
        """Add somebody you keep wears for. For a child, say when it comes of age and that you may decide for it."""
        wearer = services.add_wearer(request.user, **checked(WearerSerializer, request))
        return Response(WearerSerializer(wearer).data, status.HTTP_201_CREATED)


class Me(APIView):
    @extend_schema(operation_id="member_leave", responses={204: None})
    def delete(self, request: MemberRequest) -> Response:
        """Close the account: everything you hold and every link to it is erased now.

        Sums of at least five people that already count a wear stay until their date; see the consent text.
        """
        services.close_account(request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class Vocabulary(APIView):
    permission_classes = (AllowAny,)
    authentication_classes = ()

    @extend_schema(operation_id="vocabulary_read", responses={200: dict}, auth=[])
    def get(self, _request: Request) -> Response:
        """The words a wear record may use, and the consent text to be read before joining."""
        return Response(vocabulary() | {"consent": {"text": CONSENT_TEXT, "text_version": CONSENT_VERSION}})


urlpatterns: list[URLPattern] = [
    path("members/", Members.as_view(), name="members"),
    path("tokens/", Tokens.as_view(), name="tokens"),
    path("tokens/recovery/", Recovery.as_view(), name="token-recovery"),
    path("tokens/current/", CurrentToken.as_view(), name="token-current"),
    path("notices/", Notices.as_view(), name="notices"),
    path("me/", Me.as_view(), name="me"),
    path("me/consents/", Consents.as_view(), name="consents"),
    path("me/wearers/", Wearers.as_view(), name="wearers"),
    path("vocabulary/", Vocabulary.as_view(), name="vocabulary"),
    path(
        "schema/",
        SpectacularJSONAPIView.as_view(authentication_classes=(), permission_classes=(AllowAny,)),
        name="schema",
    ),
]
