"""Everything that a service refuses on purpose. The API turns these into problem details, the pages into an error page.

ServiceError
├── Invalid       422  what was sent cannot be taken; `faults` say where
├── Unauthorised  401  nobody is signed in, or not with these words
├── Forbidden     403  you may see it but not do this
├── NotFound      404  hidden, empty and not yours alike
├── Conflict      409  not in this state, or somebody else is at it
├── Gone          410  it was here and was taken back; `reason` says why
├── TooLarge      413
├── TooMany       429  `retry_after_s` says when to come back
└── Busy          503  the same; more is under way than can be answered
"""

from collections.abc import Sequence
from typing import NotRequired, TypedDict


class Fault(TypedDict):
    """One thing wrong with what was sent: where, as a JSON pointer, and what to do about it."""

    pointer: str
    message: str
    code: NotRequired[str]


class ServiceError(Exception):
    status = 500
    code = "error"
    title = "This could not be done"

    def __init__(self, detail: str | None = None, *, faults: Sequence[Fault] = ()) -> None:
        self.detail = detail or self.title
        self.faults = tuple(faults)
        super().__init__(self.detail)


class Invalid(ServiceError):
    status = 422
    code = "invalid"
    title = "What was sent cannot be taken"


class Unauthorised(ServiceError):
    status = 401
    code = "not-signed-in"
    title = "Sign in first"


class Forbidden(ServiceError):
    status = 403
    code = "forbidden"
    title = "You may not do this"


class NotFound(ServiceError):
    status = 404
    code = "not-found"
    title = "There is nothing here for you"


class Conflict(ServiceError):
    status = 409
    code = "conflict"
    title = "This is not possible in the present state"


class Gone(ServiceError):
    status = 410
    code = "taken-back"
    title = "This was taken back"

    def __init__(self, detail: str, *, reason: str) -> None:
        super().__init__(detail)
        self.reason = reason


class TooLarge(ServiceError):
    status = 413
    code = "too-large"
    title = "What was sent is too large"


class TooMany(ServiceError):
    status = 429
    code = "too-many"
    title = "Too many tries; wait a while"

    def __init__(self, detail: str | None = None, *, retry_after_s: int) -> None:
        super().__init__(detail)
        self.retry_after_s = retry_after_s


class Busy(ServiceError):
    status = 503
    code = "busy"
    title = "Too much is going on just now"

    def __init__(self, detail: str | None = None, *, retry_after_s: int) -> None:
        super().__init__(detail)
        self.retry_after_s = retry_after_s
