"""TOML text of a plain mapping: what the standard library reads but does not write."""

import json
from collections.abc import Mapping
from typing import Any


def toml_text(data: Mapping[str, Any]) -> str:
    """TOML of texts, numbers, booleans, lists and mappings with text keys; reading it gives the same mapping.

    Raises TypeError for anything else (None included).
    """
    lines: list[str] = []
    _table(data, "", lines)
    return "\n".join(lines).strip() + "\n"


def _table(data: Mapping[str, Any], path: str, lines: list[str]) -> None:
    plain = {k: v for k, v in data.items() if not isinstance(v, Mapping) and not _tables(v)}
    lines.extend(f"{_key(k)} = {_value(v)}" for k, v in plain.items())
    for key, value in data.items():
        if key in plain:
            continue
        inner = f"{path}.{_key(key)}" if path else _key(key)
        for one in [value] if isinstance(value, Mapping) else value:
            lines += ["", f"[{inner}]" if isinstance(value, Mapping) else f"[[{inner}]]"]
            _table(one, inner, lines)


def _tables(value: Any) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(isinstance(v, Mapping) for v in value)


def _key(key: Any) -> str:
    if not isinstance(key, str):
        raise TypeError("a key must be text")
    return key if key and key.isascii() and key.replace("_", "").replace("-", "").isalnum() else _quoted(key)


def _quoted(text: str) -> str:
    """JSON's escapes are TOML's, save that TOML wants DEL escaped too; a lone surrogate cannot be told."""
    text.encode()
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return repr(float(value))
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    raise TypeError(f"{type(value).__name__} has no place in a problem file")
