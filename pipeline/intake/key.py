"""The key that hides identifiers: kept outside the store, readable by its owner alone."""

import hashlib
import os
import secrets
import stat
from pathlib import Path

from platformdirs import user_config_path

from pipeline.errors import KeyFileError

KEY_BYTES = 32
VARIABLE = "DRYTALLY_KEY_FILE"


def key_path() -> Path:
    """Return where the key is kept: the path in DRYTALLY_KEY_FILE, else the user's settings."""
    named = os.environ.get(VARIABLE)
    return Path(named) if named else user_config_path("drytally") / "identifier.key"


def path_for(store: Path, *, is_demo: bool) -> Path:
    """Return where a store's key is kept; the demo's lies beside its store.

    A demo's store that was copied elsewhere without its key takes the one in DRYTALLY_KEY_FILE.
    """
    beside = store.parent / "demo-identifier.key"
    is_copy = not beside.exists() and any((store / "ledger").glob("*.json"))
    if is_demo and not (is_copy and os.environ.get(VARIABLE)):
        return beside
    return key_path()


def read_key(path: Path, store: Path, *, known_fingerprint: str) -> bytes:
    """Read the key, or make one where neither it nor a store that needs it exists.

    Args:
        path: the key file.
        store: the store folder, inside which the key must not lie.
        known_fingerprint: fingerprint the store was made with; empty for a new store.

    Raises:
        KeyFileError: where the key is a symbolic link, readable by others, too short, inside
            the store, missing though the store needs it, or another one than the store's.
    """
    if path.resolve().is_relative_to(store.resolve()):
        raise KeyFileError(
            "the key file lies inside the store", todo=f"Move it and set {VARIABLE} to its path."
        )
    if path.is_symlink():
        raise KeyFileError("the key file is a symbolic link", todo="Put the file itself there.")
    if not path.exists():
        if known_fingerprint:
            raise KeyFileError(
                f"the key file {path} is missing, and this store was made with one",
                expected=f"the key with fingerprint {known_fingerprint}",
                done="Nothing was changed.",
                todo=f"Restore it from its backup, or set {VARIABLE} to its path.",
            )
        _make(path)
    status = path.stat()
    if stat.S_IMODE(status.st_mode) & 0o077:
        raise KeyFileError(
            f"the key file {path} can be read by others",
            found=oct(stat.S_IMODE(status.st_mode)),
            expected="0o600",
            todo=f"chmod 600 {path}",
        )
    key = path.read_bytes().strip()
    try:
        raw = bytes.fromhex(key.decode("ascii"))
    except ValueError as error:
        raise KeyFileError("the key file is not hexadecimal text") from error
    if len(raw) < KEY_BYTES:
        raise KeyFileError("the key is too short", found=f"{len(raw)} bytes", expected="32 bytes")
    if known_fingerprint and fingerprint(raw) != known_fingerprint:
        raise KeyFileError(
            "the key is not the one this store was made with",
            found=f"fingerprint {fingerprint(raw)}",
            expected=f"fingerprint {known_fingerprint}",
            done="Nothing was changed.",
            todo=f"Set {VARIABLE} to the right key, or refresh into a new store.",
        )
    return raw


def old_path(path: Path, old_fingerprint: str) -> Path:
    """Return where a rotated key is kept until its store is refreshed."""
    return path.with_name(f"{path.name}.{old_fingerprint}")


def is_rotated(path: Path, known_fingerprint: str) -> bool:
    """Tell whether the key was rotated and its store is still under the earlier one."""
    return bool(known_fingerprint) and old_path(path, known_fingerprint).exists()


def rotate_key(path: Path, old_fingerprint: str) -> bytes:
    """Set the key aside under its fingerprint and make a new one in its place.

    Raises:
        KeyFileError: where the new key cannot be made; the old one is then put back.
    """
    aside = old_path(path, old_fingerprint)
    path.rename(aside)
    try:
        _make(path)
    except KeyFileError:
        aside.rename(path)
        raise
    return bytes.fromhex(path.read_text(encoding="ascii").strip())


def fingerprint(key: bytes) -> str:
    """Return what may be known of a key: 12 hexadecimal digits of a hash of it."""
    return hashlib.blake2b(key, digest_size=6, person=b"fingerprint").hexdigest()


def _make(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as error:
        raise KeyFileError(
            f"the key file {path} cannot be made ({error.strerror})",
            todo=f"Set {VARIABLE} to a path you may write to.",
        ) from error
    with os.fdopen(descriptor, "w", encoding="ascii") as stream:
        stream.write(secrets.token_hex(KEY_BYTES) + "\n")
