"""The second factor of signing in: six digits of an authenticator app (TOTP, RFC 6238), for whoever wants it."""

from typing import Any

from django.urls import URLPattern, path
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.response import Response
from rest_framework.views import APIView

from server.accounts import second_factor
from server.accounts.credentials import check_present_password
from server.api.authentication import MemberRequest
from server.api.members import PasswordField, StrictSerializer, checked
from server.api.schema import refuses, takes
from server.core.errors import Conflict, TooMany


class SecondFactorSerializer(serializers.Serializer[Any]):
    on = serializers.BooleanField(help_text="Whether signing in asks for a one-time code.")


class SetupSerializer(serializers.Serializer[Any]):
    secret = serializers.CharField(help_text="Shown until it is confirmed. In force only then.")
    address = serializers.CharField(help_text="The same as an otpauth address, which apps read from a QR code.")


class PresentPasswordSerializer(StrictSerializer):
    present_password = PasswordField(help_text="So that nobody who finds a device signed in sets up an app of theirs.")


class OneTimeCodeSerializer(StrictSerializer):
    one_time_code = serializers.CharField(max_length=40)


class SecondFactor(APIView):
    @extend_schema(operation_id="second_factor_read", responses=SecondFactorSerializer)
    def get(self, request: MemberRequest) -> Response:
        """Read whether a second factor is on."""
        return _state(request)

    @extend_schema(
        operation_id="second_factor_begin", request=PresentPasswordSerializer, responses={201: SetupSerializer}
    )
    @refuses(Conflict, TooMany)
    def post(self, request: MemberRequest) -> Response:
        """Have a secret made for an authenticator app. It asks for nothing until it is confirmed."""
        check_present_password(request.user, checked(PresentPasswordSerializer, request)["present_password"])
        return Response(SetupSerializer(second_factor.begin(request.user)).data, status.HTTP_201_CREATED)

    @extend_schema(
        operation_id="second_factor_confirm", request=OneTimeCodeSerializer, responses=SecondFactorSerializer
    )
    @refuses(Conflict, TooMany)
    def put(self, request: MemberRequest) -> Response:
        """Switch it on, with a code that the app shows now."""
        second_factor.confirm(request.user, **checked(OneTimeCodeSerializer, request))
        return _state(request)

    @extend_schema(operation_id="second_factor_end", responses={200: SecondFactorSerializer})
    @takes(OneTimeCodeSerializer)
    @refuses(Conflict, TooMany)
    def delete(self, request: MemberRequest) -> Response:
        """Switch it off, with a code of the app or a recovery code."""
        second_factor.end(request.user, **checked(OneTimeCodeSerializer, request))
        return _state(request)


def _state(request: MemberRequest) -> Response:
    return Response(SecondFactorSerializer({"on": second_factor.is_on(request.user)}).data)


urlpatterns: list[URLPattern] = [path("me/second-factor/", SecondFactor.as_view(), name="second-factor")]
