"""Identifiers: keyed hashes, and the key's own rules."""

import hashlib
from pathlib import Path

import polars as pl
import pytest

from pipeline.errors import KeyFileError
from pipeline.intake.identity import hide_column
from pipeline.intake.key import fingerprint, read_key

KEY = bytes(range(32))


def hide(ids: list[str | None], domain: str = "device", site: str = "s", key: bytes = KEY):
    frame = pl.DataFrame({"site_id": [site] * len(ids), "id": ids})
    return hide_column(frame, "id", domain, key, per_site=True)["id"].to_list()


def test_a_pseudonym_is_the_keyed_blake2b_of_site_and_id() -> None:
    """Computed here with hashlib directly (RFC 7693 keyed mode)."""
    wanted = hashlib.blake2b(b"s\x00A1", key=KEY, digest_size=16, person=b"device").hexdigest()
    assert hide(["A1", None, "A1"]) == [wanted, None, wanted]


def test_one_serial_typed_in_two_ways_is_one_aid() -> None:
    plain, wide, spaced, hidden = hide(["A10", "\uff21\uff11\uff10", " A10 ", "A\u200b10"])
    assert plain == wide == spaced == hidden


def test_domains_sites_and_keys_share_no_pseudonyms() -> None:
    seen = {
        hide(["A1"])[0],
        hide(["A1"], domain="wearer")[0],
        hide(["A1"], site="t")[0],
        hide(["A1"], key=bytes(32))[0],
    }
    assert len(seen) == 4


def test_linking_across_sites_gives_one_pseudonym() -> None:
    frame = pl.DataFrame({"site_id": ["s", "t"], "id": ["A1", "A1"]})
    assert hide_column(frame, "id", "wearer", KEY, per_site=False)["id"].n_unique() == 1


def test_a_key_is_made_once_private_and_found_again(tmp_path: Path) -> None:
    path, store = tmp_path / "conf" / "identifier.key", tmp_path / "store"
    first = read_key(path, store, known_fingerprint="")
    assert len(first) == 32
    assert path.stat().st_mode & 0o077 == 0
    assert read_key(path, store, known_fingerprint=fingerprint(first)) == first


@pytest.mark.parametrize("fault", ["missing", "other", "readable", "short", "link", "inside"])
def test_an_unsafe_or_wrong_key_is_refused(tmp_path: Path, fault: str) -> None:
    path, store = tmp_path / "identifier.key", tmp_path / "store"
    store.mkdir()
    known = ""
    if fault == "inside":
        path = store / "identifier.key"
    elif fault == "missing":
        known = "0123456789ab"
    else:
        read_key(path, store, known_fingerprint="")
    if fault == "other":
        known = "0123456789ab"
    if fault == "readable":
        path.chmod(0o644)
    if fault == "short":
        path.write_text("00ff\n")
    if fault == "link":
        (tmp_path / "link.key").symlink_to(path)
        path = tmp_path / "link.key"
    with pytest.raises(KeyFileError):
        read_key(path, store, known_fingerprint=known)
