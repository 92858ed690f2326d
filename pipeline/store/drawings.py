"""Texts and drawings of the last pages, kept so that the next night makes only what changed.

They hold what the pages of the store hold, no row of an aid. Nothing rests on them: where the file
is gone or damaged everything is made again.
"""

import json
import zlib
from collections.abc import Mapping
from typing import Any

from pipeline.store.layout import Store, write_aside

LEVEL = 1
Kinds = dict[str, dict[str, Any]]


def read_kept(store: Store) -> Kinds:
    """Return what is kept, by kind and by what it was made from."""
    try:
        found = json.loads(zlib.decompress(store.drawings.read_bytes()))
    except (OSError, zlib.error, ValueError):
        return {}
    if not isinstance(found, dict):
        return {}
    return {kind: own for kind, own in found.items() if isinstance(own, dict)}


def write_kept(store: Store, kept: Mapping[str, Mapping[str, Any]]) -> None:
    """Keep this in place of what was kept before."""
    write_aside(store.drawings, zlib.compress(json.dumps(kept).encode(), LEVEL))
