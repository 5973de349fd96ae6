"""Signing in and out. A password is typed at a prompt, never on the command line, and never kept."""

from typing import Annotated

import typer

from pooling.cli import tokens
from pooling.cli.exits import Exit, Stop
from pooling.cli.service import Refused, Service, service_address
from pooling.cli.terminal import Terminal

CODE_NEEDED = "one-time-code-needed"

Server = Annotated[
    str,
    typer.Option("--server", metavar="ADDRESS", envvar="COMMONWEAR_SERVER", help="Address of the server."),
]


def sign_in(service: Service, terminal: Terminal) -> str:
    """Ask for name and password, get a token, and give it to the system's keyring where there is one.

    Raises
    ------
    Stop
        If nobody is there to answer, or the server does not know the two together.
    """
    name = terminal.ask("Sign-in name")
    password = terminal.ask("Password (not shown)", hidden=True)
    token = _token(service, terminal, {"sign_in_name": name, "password": password})
    if tokens.keep(service.address, token):
        terminal.note("Signed in; the system's keyring keeps the token.")
    else:
        terminal.note("Signed in for this command only: the system has no keyring to keep the token in.")
    return token


def _token(service: Service, terminal: Terminal, words: dict[str, str]) -> str:
    try:
        return str(service.call("POST", "tokens/", json=words)["token"])
    except Refused as refusal:
        if refusal.problem.get("code") != CODE_NEEDED:
            raise
    words |= {"one_time_code": terminal.ask("Code of your authenticator app, or a recovery code")}
    return str(service.call("POST", "tokens/", json=words)["token"])


def token_or_stop(service: Service, terminal: Terminal, *, prompt: bool) -> str:
    """The token to use. Errors as `sign_in`, and if there is none."""
    token = sign_in(service, terminal) if prompt else tokens.token_for(service.address)
    if token is None:
        message = f"You are not signed in at {service.address}. Add --sign-in, or set {tokens.VARIABLE}."
        raise Stop(Exit.SIGN_IN, message)
    return token


def sign_out(server: Server) -> None:
    """End the sign-in of this device.

    The server forgets the token, and so does the keyring.

    \b
    Examples:
      commonwear sign-out --server https://pool.example
    """
    terminal = Terminal()
    with Service(service_address(server), note=terminal.note) as service:
        token = token_or_stop(service, terminal, prompt=False)
        try:
            service.call("DELETE", "tokens/current/", token=token)
        except Stop as stop:
            if stop.code != Exit.SIGN_IN:  # a token that has ended already is as good as signed out
                raise
    tokens.forget(service.address)
    terminal.note(f"Signed out at {service.address}.")
