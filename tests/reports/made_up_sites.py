"""Made-up frames with more sites: those of `made_up`, copied under other names."""

import polars as pl

from tests.reports import made_up


def many(copies):
    """Return the frames with every site as often as told; tables without sites stay."""
    found = {}
    for name, frame in made_up.frames().items():
        if "site_id" not in frame.columns:
            found[name] = frame
            continue
        found[name] = pl.concat([_copy(frame, at) for at in range(copies)])
    return found


def _copy(frame, at):
    if at == 0:
        return frame
    # What is of no site, such as the whole group, stands once.
    frame = frame.filter(pl.col("site_id").is_not_null())
    changed = [pl.concat_str("site_id", pl.lit(f"-{at}")).alias("site_id")]
    if "site_name" in frame.columns:
        changed.append(pl.concat_str("site_name", pl.lit(f" {at + 1}")).alias("site_name"))
    return frame.with_columns(changed)
