"""A start is refused where a promise would break: nobody answers for the service, or marks are not known again."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import DatabaseError

from server.core import rotation, texts
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
def nobody_outside_sees_debugging(app_configs: Any, **_: Any) -> Sequence[CheckMessage]:  # noqa: ARG001
    if not (settings.PUBLIC and settings.DEBUG):
        return []
    return [
        Error(
            "The service is to be reached from outside, and COMMONWEAR_DEBUG is set.",
            hint="Leave COMMONWEAR_DEBUG out: it is for developing on one's own machine.",
            id="commonwear.E006",
        )
    ]


@register(Tags.database)
def no_key_is_missing(app_configs: Any, **_: Any) -> Sequence[CheckMessage]:  # noqa: ARG001
    """Without a key that stored marks were made under, wears counted before could be counted again."""
    try:
        missing = rotation.newest_in_use() - key_version()
    except DatabaseError:  # the tables are not there yet
        return []
    if missing <= 0:
        return []
    return [
        Error(
            f"The keys file holds {missing} keys fewer than the database was written with.",
            hint="Put the newest copy of the keys file back; without it nothing that was counted is known again.",
            id="commonwear.E010",
        )
    ]


@register()
def journal_lies_apart(app_configs: Any, **_: Any) -> Sequence[CheckMessage]:  # noqa: ARG001
    """A journal that is copied and put back with the database knows no more than the database."""
    if not settings.PUBLIC or settings.DATA_DIR not in settings.ERASURE_JOURNAL.parents:
        return []
    return [
        Warning(
            "The erasure journal lies in the data directory, where copies of the database are made from.",
            hint="Name another place, on another disk if there is one: COMMONWEAR_ERASURE_JOURNAL.",
            id="commonwear.W011",
        )
    ]


@register(Tags.translation)
def texts_are_compiled(app_configs: Any, **_: Any) -> Sequence[CheckMessage]:  # noqa: ARG001
    """Without its compiled texts a page would quietly be English."""
    return [
        Warning(
            f"The texts in {source.parent.parent.name} ({source.stem}) are not compiled.",
            hint="Run `python -m server texts` once, as somebody who may write where the code stands.",
            id="commonwear.W020",
        )
        for source in texts.stale()
    ]
