"""Sign-in names and secrets that the service makes up, so that nobody has to give one of their own."""

import secrets

_FIRST = """
amber brisk calm copper curly dusty early easy fair gentle golden green grey happy hazel jolly keen lemon light lucky
mellow merry mild misty olive plain plum quick quiet rapid red round rusty sandy silver slow snowy soft sunny swift
tall tidy warm white wild windy woolly young
"""
_SECOND = """
acorn anchor apple badger barn basket beech bell birch boat bridge brook button candle cedar cherry clover cloud comet
crane daisy door dune elm falcon feather fern field finch fox garden gate goose harp hazelnut heron hill island ivy
kettle kite ladder lake lamp lark leaf lily maple meadow moon moss oak otter owl path pear pebble pine pond poppy
rabbit reed river robin rose sail shell spruce star stone swan thistle tulip wagon walnut willow wren
"""
# Letters and digits that nobody mistakes for one another.
_CLEAR = "abcdefghjkmnpqrstuvwxyz23456789"


def new_sign_in_name() -> str:
    """Two words and five digits: easy to copy, and about nobody."""
    return f"{secrets.choice(_FIRST.split())}-{secrets.choice(_SECOND.split())}-{secrets.randbelow(90_000) + 10_000}"


def new_recovery_code() -> str:
    """Four groups of four letters and digits, nearly eighty random bits."""
    return "-".join("".join(secrets.choice(_CLEAR) for _ in range(4)) for _ in range(4))


def new_token() -> str:
    return secrets.token_urlsafe(32)
