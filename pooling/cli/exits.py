"""How a command ends: the codes that scripts may rely on, and the error that ends one."""

from enum import IntEnum


class Exit(IntEnum):
    """Exit codes. With several files the highest one met counts."""

    DONE = 0
    FINDINGS = 1
    USAGE = 2
    UNREADABLE = 3
    REFUSED = 4
    UNREACHABLE = 5
    SIGN_IN = 6
    BROKEN = 70
    INTERRUPTED = 130


MEANING = {
    Exit.DONE: "done",
    Exit.FINDINGS: "the record, the package or the edition is at fault, or a finding says to stop",
    Exit.USAGE: "the command was not understood",
    Exit.UNREADABLE: "a file could not be read or written",
    Exit.REFUSED: "the server refused",
    Exit.UNREACHABLE: "the server could not be reached, or is too busy",
    Exit.SIGN_IN: "sign in first",
    Exit.BROKEN: "something of ours broke",
    Exit.INTERRUPTED: "stopped by Ctrl-C",
}


class Stop(Exception):
    """Ends a command: what is wrong, in words that say what to do next."""

    def __init__(self, code: Exit, message: str) -> None:
        super().__init__(message)
        self.code = code
