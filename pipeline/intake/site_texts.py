"""What a site's own settings say, as one hash: files are screened again where it changes."""

import hashlib
from pathlib import Path

from pipeline.intake.mapping import CORRECTIONS, MAPPING
from pipeline.intake.plain_file import read_plain


def site_texts(folder: Path) -> str:
    """Return a hash of a site's mapping and corrections, empty where it has neither."""
    texts = []
    for name in (MAPPING, CORRECTIONS):
        try:
            texts.append(f"{name}\x00".encode() + read_plain(folder / name))
        except FileNotFoundError:
            continue
        except OSError as error:
            texts.append(f"{name}\x00not read: {error.errno}".encode())
    return hashlib.sha256(b"\x00".join(texts)).hexdigest()[:16] if texts else ""
