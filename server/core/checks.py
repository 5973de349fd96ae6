"""A start is refused where a promise would break: nobody answers for the service, or marks are not known again."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, register

from server.core.keys import key_version


@register()
def operator_is_named(app_configs: Any, **_: Any) -> Sequence[CheckMessage]:  # noqa: ARG001
    if not settings.PUBLIC:
        return []
    return [
        Error(
            f"The service is to be reached from outside, and COMMONWEAR_{name.upper()} is not set.",
            hint="Set it as deploy/env.example says; without it nobody knows who answers for members' data.",
            id=f"commonwear.E00{number}",
        )
        for number, (name, value) in enumerate(settings.OPERATOR.items(), start=1)
        if not value
    ]


@register()
def marks_are_known_again(app_configs: Any, **_: Any) -> Sequence[CheckMessage]:  # noqa: ARG001
    """A second key would make every stored mark unknown: wears counted before could be counted again."""
    if key_version() == 1:
        return []
    return [
        Error(
            "The keys file holds more than one key, and stored marks are of the first.",
            hint="Take the newer keys out again; there is no command yet that carries stored marks to a new key.",
            id="commonwear.E010",
        )
    ]
