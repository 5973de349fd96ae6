"""Log lines that say where something failed and never with which values."""

import logging
import traceback
from types import TracebackType


class WithoutValues(logging.Formatter):
    """Formats an exception as its type and the places it came through.

    The message of an exception often quotes a row or a body (a unique constraint does), and those hold health data.
    """

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s: %(message)s")

    def formatException(  # noqa: N802 (the name is logging's)
        self,
        ei: tuple[type[BaseException], BaseException, TracebackType | None] | tuple[None, None, None],
    ) -> str:
        kind, _, trace = ei
        if kind is None:
            return ""
        places = [f"  {frame.filename}:{frame.lineno} in {frame.name}" for frame in traceback.extract_tb(trace)]
        return "\n".join([*places, f"  {kind.__module__}.{kind.__qualname__}"])
