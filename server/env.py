"""Typed readers of the environment: an odd value stops the start, naming the variable and where it is explained."""

import json
import os
import secrets
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TypeVar
from urllib.parse import SplitResult, urlsplit

EXAMPLE = "deploy/env.example"
Default = TypeVar("Default")


class EnvironmentFault(Exception):
    """A variable of the environment holds something that cannot be used."""

    def __init__(self, name: str, complaint: str) -> None:
        super().__init__(f"{name} {complaint}; see {name} in {EXAMPLE}")


@dataclass(frozen=True, slots=True)
class Keys:
    """What signs sessions, and the chain of keys that marks are made with, the oldest first, in hexadecimal digits."""

    secret_key: str
    mac_keys: tuple[str, ...]


def _raw(name: str) -> str | None:
    value = os.environ.get(name, "").strip()
    return value or None


def text(name: str, default: Default) -> str | Default:
    return _raw(name) or default


def flag(name: str, default: bool = False) -> bool:
    value = _raw(name)
    if value is None:
        return default
    if value.lower() in {"1", "true", "yes", "on"}:
        return True
    if value.lower() in {"0", "false", "no", "off"}:
        return False
    raise EnvironmentFault(name, "must be yes or no")


def whole(name: str, default: int, *, at_least: int = 0) -> int:
    value = _raw(name)
    if value is None:
        return default
    if not value.isdecimal() or int(value) < at_least:
        raise EnvironmentFault(name, f"must be a whole number, at least {at_least}")
    return int(value)


def secret(name: str, default: Default) -> str | Default:
    """Read a secret from NAME, or from the file that NAME_FILE names; never from both."""
    value, path = _raw(name), _raw(f"{name}_FILE")
    if value and path:
        raise EnvironmentFault(name, f"and {name}_FILE are both set; keep one")
    if path is None:
        return value or default
    try:
        value = Path(path).read_text(encoding="utf-8").strip()
    except OSError as error:
        raise EnvironmentFault(f"{name}_FILE", f"names a file that cannot be read ({error.strerror})") from None
    if not value:
        raise EnvironmentFault(f"{name}_FILE", "names an empty file")
    return value


def day(name: str, default: Default) -> date | Default:
    value = _raw(name)
    if value is None:
        return default
    try:
        return date.fromisoformat(value)
    except ValueError:
        raise EnvironmentFault(name, "must be a date such as 2031-02-01") from None


def url(name: str, *, schemes: tuple[str, ...]) -> SplitResult | None:
    return _address(name, _raw(name), schemes)


def secret_url(name: str, *, schemes: tuple[str, ...]) -> SplitResult | None:
    """An address that may hold a password, and so may stand in a file like any other secret."""
    return _address(name, secret(name, None), schemes)


def _address(name: str, value: str | None, schemes: tuple[str, ...]) -> SplitResult | None:
    if value is None:
        return None
    parts = urlsplit(value)
    if parts.scheme not in schemes:
        raise EnvironmentFault(name, f"must begin with {' or '.join(f'{scheme}:' for scheme in schemes)}")
    return parts


def choice(name: str, default: Default, *, options: tuple[str, ...]) -> str | Default:
    value = _raw(name)
    if value is not None and value not in options:
        raise EnvironmentFault(name, f"must be one of {', '.join(options)}")
    return value or default


def path(name: str, default: Default) -> Path | Default:
    value = _raw(name)
    return Path(value).absolute() if value else default


def for_another_process(**variables: str) -> dict[str, str]:
    """The environment of a program that we start, with these variables beside what stands there."""
    return {**os.environ, **variables}


def keys_file(name: str, default: Path) -> Path:
    """Name the file of keys, making it with fresh ones (readable by its owner alone) at the first start."""
    target = path(name, default)
    if not target.exists():
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        draft = _written(target, {"secret_key": secrets.token_urlsafe(48), "mac_keys": [secrets.token_hex(32)]})
        try:
            # A link fails when another process was first, so that all processes end up with the same keys.
            target.hardlink_to(draft)
        except FileExistsError:
            pass
        finally:
            draft.unlink()
    return target


def add_key(file: Path) -> None:
    """Put a fresh key behind those in the file, which then holds the old ones and the new, or is as it was."""
    held = keys_in(file)
    draft = _written(file, {"secret_key": held.secret_key, "mac_keys": [*held.mac_keys, secrets.token_hex(32)]})
    draft.replace(file)
    folder = os.open(file.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def _written(target: Path, content: dict[str, object]) -> Path:
    """A finished file beside the target, readable by its owner alone."""
    draft = target.with_name(f".{target.name}.{secrets.token_hex(8)}")
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as stream:
        json.dump(content, stream)
        stream.flush()
        os.fsync(stream.fileno())
    return draft


def keys_in(file: Path) -> Keys:
    try:
        held = json.loads(file.read_text(encoding="utf-8"))
        keys = Keys(secret_key=held["secret_key"], mac_keys=tuple(held["mac_keys"]))
        usable = bool(keys.secret_key and keys.mac_keys) and all(len(bytes.fromhex(key)) >= 32 for key in keys.mac_keys)
    except (OSError, ValueError, KeyError, TypeError):
        usable = False
    if not usable:
        raise EnvironmentFault("COMMONWEAR_KEYS_FILE", "names a file that holds no usable keys")
    return keys
