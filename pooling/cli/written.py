"""A wear record as the bytes that leave the device: written so that a person can read all of it."""

from typing import Any

import msgspec

from pooling.record import record_from

_INDENT = "  "


def record_bytes(content: dict[str, Any]) -> bytes:
    """The whole record: a line a field, a line a pair, and nothing for what was not asked.

    Raises
    ------
    RecordInvalid
        With every fault, if this is no valid record.
    """
    record = record_from(content)
    fields = _asked(msgspec.to_builtins(record))
    lines = [f"{_INDENT}{_json(name)}: {_json(value)}" for name, value in fields.items() if name != "pairs"]
    rows = ",\n".join(f"{_INDENT * 2}{_json(_asked(pair))}" for pair in msgspec.to_builtins(record.pairs))
    lines.append(f'{_INDENT}"pairs": [\n{rows}\n{_INDENT}]' if rows else f'{_INDENT}"pairs": []')
    return ("{\n" + ",\n".join(lines) + "\n}\n").encode()


def _json(value: Any) -> str:
    return msgspec.json.format(msgspec.json.encode(value), indent=0).decode()


def _asked(fields: dict[str, Any]) -> dict[str, Any]:
    """Without what nobody said: null, and lists and objects with nothing in them; whole numbers without a point."""
    said = {name: _plain(value) for name, value in fields.items()}
    return {name: value for name, value in said.items() if value not in (None, [], (), {}) or name == "pairs"}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return _asked(value)
    return int(value) if isinstance(value, float) and value.is_integer() else value
