"""What is asked of the copy, in one process of its own: `python line.py FOLDER`, in the copy."""

import contextlib
import io
import json
import sys
from pathlib import Path

FOLDER = Path(sys.argv[1])
EXPORTS, STORE = FOLDER / "exports", FOLDER / "store"


def run(*words: str) -> str:
    """Run one command; returns what it printed."""
    from pipeline.commands.main import main

    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        main(words)
    return said.getvalue()


def shared() -> list[dict[str, object]]:
    """Return the new measure as it may be passed on, of 3 and of 30 aids."""
    import polars as pl

    from pipeline.disclosure.suppress import suppress
    from pipeline.measures.catalogue import DISCLOSURE

    frame = pl.DataFrame({
        "power_source": ["zinc_air", "unknown"], "n": [30, 3], "mean_minutes": [40.0, 50.0],
    })  # fmt: skip
    return suppress({"power_minutes": frame}, 11, DISCLOSURE)["power_minutes"].to_dicts()


def main() -> None:
    """Write what generated files would hold, fill a store, and run the commands."""
    from pipeline.intake import mapping_guide
    from schemas import dictionary

    dictionary.main([])
    mapping_guide.main([])
    told = {
        "refresh": run("refresh", str(EXPORTS), "--store", str(STORE), "--plain", "--json",
                       "--as-of", "2026-07-01", "--dashboards", str(FOLDER / "dashboards")),
        "check": run("check", str(FOLDER / "visit_counts_2026-05.csv"), "--site", "site-a",
                     "--zone", "Europe/London", "--exports", str(EXPORTS), "--as-of", "2026-07-01"),
        "help": run(),
        "template": run("template", "--site", "site-a", "--into", str(FOLDER / "forms")),
        "door-sheet": run("door-sheet", "--into", str(FOLDER / "door.html")),
        "shared": shared(),
    }  # fmt: skip
    (FOLDER / "told.json").write_text(json.dumps(told), encoding="utf-8")


if __name__ == "__main__":
    main()
