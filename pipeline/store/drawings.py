"""Drawings of the last pages, kept so that the next night draws only what changed.

They hold what the pages of the store hold, no row of an aid. Nothing rests on them: where the file
is gone or damaged everything is drawn again.
"""

import json
import zlib
from collections.abc import Mapping

from pipeline.store.layout import Store, write_aside

LEVEL = 1


def read_drawings(store: Store) -> dict[str, str]:
    """Return the drawings kept, by the hash of what they were made from."""
    try:
        found = json.loads(zlib.decompress(store.drawings.read_bytes()))
    except (OSError, zlib.error, ValueError):
        return {}
    return {str(key): str(drawing) for key, drawing in found.items()} if found else {}


def write_drawings(store: Store, drawings: Mapping[str, str]) -> None:
    """Keep drawings in place of those kept before."""
    write_aside(store.drawings, zlib.compress(json.dumps(drawings).encode(), LEVEL))
