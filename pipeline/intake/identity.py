"""Turn identifiers into keyed hashes, distinct values once."""

import hashlib

import polars as pl

from pipeline.intake.distinct import distinct, read_once

PSEUDONYM_BYTES = 16
INVISIBLE = r"[\p{Cc}\p{Cf}]"


def hide_column(
    frame: pl.DataFrame, name: str, domain: str, key: bytes, *, per_site: bool
) -> pl.DataFrame:
    """Replace one identifier column by its keyed hash (32 hexadecimal digits).

    Identifiers are normalised first (NFKC, invisible characters removed, trimmed), so that one
    serial typed in two ways is one aid.

    Args:
        frame: text columns, `site_id` among them when `per_site`.
        name: the identifier column; nulls stay null.
        domain: "session", "device", "wearer" or "assessor"; domains share no hashes.
        key: secret key.
        per_site: the same identifier at two sites gives two hashes.
    """
    scope = pl.col("site_id") if per_site else pl.lit("")
    plain = pl.col(name).str.normalize("NFKC").str.replace_all(INVISIBLE, "").str.strip_chars()
    scoped = frame.select(
        scope=scope.fill_null(""), plain=read_once(frame, name, plain.replace("", None))
    )
    told = distinct(scoped.select(pl.concat_str("scope", pl.lit("\x00"), "plain")).to_series())
    keyed = hashlib.blake2b(key=key, digest_size=PSEUDONYM_BYTES, person=domain.encode())
    hidden = pl.Series(name, _hashed(keyed, told.texts), dtype=pl.String)
    return frame.with_columns(hidden if told.place is None else hidden.gather(told.place))


def _hashed(keyed: "hashlib.blake2b", texts: pl.Series) -> list[str | None]:
    """Return the hash of each text; taking the key in once and copying that is cheaper."""
    hashes: list[str | None] = []
    for text in texts.cast(pl.Binary):
        if text is None:
            hashes.append(None)
            continue
        own = keyed.copy()
        own.update(text)
        hashes.append(own.hexdigest())
    return hashes


def hide_unlisted(
    frame: pl.DataFrame, name: str, key: bytes, listed: frozenset[tuple[str, str]]
) -> pl.DataFrame:
    """Replace the ids of test boxes by their keyed hash where their site does not list them.

    Args:
        frame: text columns, `site_id` among them.
        name: the column.
        key: secret key.
        listed: site and id of every box that may be stored as it is.
    """
    hidden = hide_column(frame, name, "box", key, per_site=True)[name]
    known = pl.DataFrame(
        sorted(listed), schema={"site_id": pl.String, "box": pl.String}, orient="row"
    ).with_columns(is_listed=pl.lit(value=True))
    rows = frame.select("site_id", box=pl.col(name).str.strip_chars())
    joined = rows.join(known, on=["site_id", "box"], how="left", maintain_order="left")
    return frame.with_columns(
        pl.when(joined["is_listed"]).then(joined["box"]).otherwise(hidden).alias(name)
    )


def hidden(plain: str, domain: str, key: bytes, *, site_id: str) -> str | None:
    """Return the keyed hash of one identifier of a site, as `hide_column` gives it.

    Returns:
        32 hexadecimal digits; None where nothing is left of the identifier.
    """
    frame = pl.DataFrame({"site_id": [site_id], "plain": [plain]})
    found: str | None = hide_column(frame, "plain", domain, key, per_site=True)["plain"][0]
    return found
