"""Imported by the service that is to be killed, and by nothing else: it puts itself in the way of the fit."""

import os
import time
from typing import Any

from django.conf import settings

from server.editions import fitting
from tests.server.editions.midfit import NOTE

CHANNEL = "direct"
_fit_channel = fitting.fit_channel


def fit_but_stop_once(records: Any, channel: str, *given: Any) -> Any:
    """Fit as usual; the first time this channel comes up, stay between the work and its being kept, to be killed."""
    fit = _fit_channel(records, channel, *given)
    note = settings.DATA_DIR / NOTE
    if channel == CHANNEL and not note.exists():
        draft = note.with_suffix(".new")
        draft.write_text(str(os.getpid()))
        draft.replace(note)
        while True:
            time.sleep(1)
    return fit


fitting.fit_channel = fit_but_stop_once
