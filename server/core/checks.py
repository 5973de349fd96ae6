"""A public start is refused until it is said who answers for the service."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, register


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
