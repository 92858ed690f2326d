"""The page's content security policy: nothing is fetched, only the hashed script and style run."""

import base64
import hashlib
import json
from typing import Any


def digest(text: str) -> str:
    """Return the policy's form of a text's SHA-256."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def policy(style: str, script: str | None) -> str:
    """Name what a page may run; everything else is refused by the browser."""
    parts = ["default-src 'none'", f"style-src '{digest(style)}'"]
    if script is not None:
        parts.append(f"script-src '{digest(script)}'")
    return "; ".join([*parts, "base-uri 'none'", "form-action 'none'"])


def inert_json(value: Any) -> str:
    """Write JSON that cannot end the element it stands in."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text
