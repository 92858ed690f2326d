"""Pages are byte for byte those of a render that keeps nothing, whatever was kept before."""

import json
import os
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from reports import figure_texts, kept, pages
from reports.files import STAFF
from reports.kept import Asked, Kept, digest_of
from reports.sheets import staff_files, staff_room
from tests.disclosure.shared import shared
from tests.reports import made_up

Frames = dict[str, pl.DataFrame]


def again(used: Mapping[str, Any]) -> Kept:
    """Return what a later run reads of what this one left."""
    return Kept(json.loads(json.dumps(used)))


def texts(frames: Frames, held: Kept, settings: Mapping[str, Any] = made_up.SETTINGS,
          unfit: list[str] | None = None) -> dict[str, str]:  # fmt: skip
    return pages.page_texts(
        frames, made_up.RUN, settings, settings_changed={}, kept=held, unfit=unfit
    )


@pytest.fixture(scope="module")
def first() -> dict[str, Any]:
    """What a first run leaves."""
    held = Kept()
    texts(made_up.frames(), held)
    return held.used


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Take down every figure that is made."""
    seen: list[str] = []
    real = figure_texts.figure_or_reason

    def counted(rule: Any, frames: Any) -> Any:
        seen.append(rule.__name__)
        return real(rule, frames)

    monkeypatch.setattr(figure_texts, "figure_or_reason", counted)
    return seen


def test_nothing_new_makes_nothing_and_says_the_same(first: Any, made: list[str]) -> None:
    held = again(first)
    told = texts(made_up.frames(), held)
    assert made == []
    assert held.used == held.known
    assert told == texts(made_up.frames(), Kept())
    assert len(made) > 50


def test_a_new_run_alone_makes_no_figure_and_is_named_on_every_page(
    first: Any, made: list[str]
) -> None:
    run = made_up.RUN | {"run_id": "of-the-next-day"}
    told = pages.page_texts(
        made_up.frames(), run, made_up.SETTINGS, settings_changed={}, kept=again(first)
    )
    assert made == []
    assert all("of-the-next-day" in text for text in told.values())


def changed(name: str, column: str) -> Frames:
    frames = made_up.frames()
    return frames | {name: frames[name].with_columns(pl.col(column) + 1)}


def test_a_new_day_alone_makes_but_the_figure_that_counts_days(first: Any, made: list[str]) -> None:
    frames = changed("dryer_calibration", "days_since_check")
    told = texts(frames, again(first))
    assert made == ["dose_checks"]
    assert told == texts(frames, Kept())
    assert told["chambers.html"] != texts(made_up.frames(), again(first))["chambers.html"]


@pytest.mark.parametrize(
    ("name", "column", "asking"),
    [("rescue_rate", "not_assessed", "rescue_by_condition")],
)  # fmt: skip
def test_a_changed_table_makes_the_figures_that_ask_for_it_anew_and_no_others(
    first: Any, made: list[str], name: str, column: str, asking: str
) -> None:
    frames = changed(name, column)
    told = texts(frames, again(first))
    assert asking in made
    reading = [one for one in first["figures"].values() if name in one["frames"]]
    assert len(made) == len(reading) < 40
    assert told == texts(frames, Kept())


def test_a_table_that_appears_is_seen(first: Any, made: list[str]) -> None:
    without = {name: frame for name, frame in made_up.frames().items() if name != "claim_check"}
    held = Kept()
    texts(without, held)
    del made[:]
    told = texts(made_up.frames(), again(held.used))
    assert "claims" in made
    assert told == texts(made_up.frames(), Kept())


def test_a_changed_setting_makes_what_names_it_anew(first: Any, made: list[str]) -> None:
    settings = made_up.SETTINGS | {"confidence_level": 0.8}
    told = texts(made_up.frames(), again(first), settings)
    assert made
    assert told == texts(made_up.frames(), Kept(), settings)


def test_another_edition_is_made_from_its_own_tables(first: Any) -> None:
    frames = shared(made_up.frames(), 11)
    assert texts(frames, again(first)) == texts(frames, Kept())


def test_other_code_takes_nothing_over(
    first: Any, made: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept, "digest_of_code", lambda: "other code")
    held = again(first)
    texts(made_up.frames(), held)
    assert len(made) == len(first["figures"])
    assert not set(held.known) - {"drawings"}


@pytest.mark.parametrize("harm", ["gone", "half"])
def test_what_is_damaged_is_made_again(first: Any, made: list[str], harm: str) -> None:
    held = again(first)
    figures: Any = held.known["figures"]
    for key in list(figures)[:5]:
        figures[key] = None if harm == "gone" else {"frames": {}}
    told = texts(made_up.frames(), held)
    assert len(made) == 5
    assert told == texts(made_up.frames(), Kept())


def test_a_figure_that_failed_says_so_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reports.figure.MOST_ROWS", 3)
    held, told, later = Kept(), [], []  # type: ignore[var-annotated]
    texts(made_up.frames(), held, unfit=told)
    texts(made_up.frames(), again(held.used), unfit=later)
    assert told
    assert later == told


def test_a_hash_knows_values_nulls_types_and_order() -> None:
    given = pl.DataFrame({"a": [1, None, 0], "b": ["", None, "x"]})
    others = [
        given.with_columns(a=pl.Series([1, 0, None])), given.with_columns(b=pl.lit("")),
        given.cast({"a": pl.Float64}), given.reverse(), given.select("b", "a"),
        given.rename({"a": "c"}), given.head(2), given.head(0),
        given.with_columns(a=pl.Series([1.0, None, -0.0])),
        given.with_columns(a=pl.Series([1.0, None, 0.0])),
    ]  # fmt: skip
    assert len({digest_of(one) for one in (given, *others)}) == 10  # two are the same
    apart = pl.concat([given.head(1), given.tail(2)], rechunk=False)
    assert digest_of(apart) == digest_of(given)
    assert digest_of(given.with_columns(c=pl.lit(None))) != digest_of(given)
    day = pl.DataFrame({"a": [date(1970, 1, 1), None]})
    assert digest_of(day) != digest_of(day.reverse())


def test_every_way_of_asking_is_noted() -> None:
    asked = Asked({"a": 1, "b": 2})
    assert asked.get("x") is None
    assert "y" not in asked
    assert asked.names == {"x", "y"}
    assert dict(asked.items()) == {"a": 1, "b": 2}
    assert asked.names == {"a", "b", "x", "y"}


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[tuple[Path, dict[str, Any]]]:
    held = Kept()
    draw(tmp_path / "pages", held)
    yield tmp_path / "pages", held.used


def draw(out: Path, held: Kept, frames: Frames | None = None, run: Any = made_up.RUN) -> None:
    pages.render(
        made_up.frames() if frames is None else frames, run, made_up.SETTINGS, out,
        settings_changed={}, kept=held,
    )  # fmt: skip


def read(out: Path) -> dict[str, bytes]:
    return {str(path.relative_to(out)): path.read_bytes() for path in out.rglob("*.html")}


def test_sheets_that_are_the_same_are_left_and_others_written(
    folder: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    out, used = folder
    for path in (out / STAFF).iterdir():
        os.utime(path, (1, 1))
    (out / STAFF / "site-01-2026-03.html").write_text("somebody wrote here")
    (out / STAFF / "site-02-2026-03.html").unlink()
    (out / STAFF / "site-99-2026-03.html").write_text("a site that is no more")
    (out / "at-site-99.html").write_text("a site that is no more")
    use = made_up.utilisation().with_columns(
        pl.when(pl.col("site_id") == "site-05").then(pl.col("runs") + 1)
        .otherwise(pl.col("runs")).alias("runs")
    )  # fmt: skip
    frames = made_up.frames() | {"utilisation": use}
    run = made_up.RUN | {"run_id": "of-the-next-day"}
    draw(out, again(used), frames, run)
    draw(tmp_path / "fresh", Kept(), frames, run)
    assert read(out) == read(tmp_path / "fresh")
    left = {path.name for path in (out / STAFF).iterdir() if path.stat().st_mtime == 1}
    same = {name for name, text in read(tmp_path / "fresh" / STAFF).items()
            if b"of-the-next-day" not in text and not name.startswith("site-05")}  # fmt: skip
    assert left == same - {"site-01-2026-03.html", "site-02-2026-03.html"}
    assert len(left) > 40


def test_a_sheets_version_changes_with_what_it_says_alone(
    folder: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    out, _ = folder
    draw(tmp_path / "next", Kept(), run=made_up.RUN | {"run_id": "of-the-next-day"})
    for name in ("site-01-2026-12.html", "site-01-2026-11.html"):
        one, other = ((place / STAFF / name).read_text() for place in (out, tmp_path / "next"))
        assert one.split("Version ")[1][:8] == other.split("Version ")[1][:8]
        assert ("of-the-next-day" in other) == ("12.html" in name)


@pytest.mark.parametrize("is_named", [False, True])
def test_a_sheet_of_which_only_the_run_moved_is_not_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, is_named: bool
) -> None:
    made: list[Any] = []
    monkeypatch.setattr(
        staff_files, "sheet", lambda *given: made.append(given[2:]) or staff_room.sheet(*given)
    )
    stamp = f"{made_up.RUN['run_id']}, code {made_up.RUN.get('code_version')}"
    # A clinic that is called what the run is called: its sheet is made anew.
    site = made_up.frames()["site"].with_columns(
        pl.when(pl.col("site_id") == "site-01", is_named)
        .then(pl.lit(f"At {stamp}")).otherwise("site_name").alias("site_name")
    )  # fmt: skip
    frames = made_up.frames() | {"site": site}
    held, out = Kept(), tmp_path / "pages"
    draw(out, held, frames)
    assert len(made) > 40
    made.clear()
    run = made_up.RUN | {"run_id": "of-the-next-day"}
    later = again(held.used)
    draw(out, later, frames, run)
    assert {place for place, _ in made} == ({"site-01"} if is_named else set())
    made.clear()
    draw(out, again(later.used), frames, run | {"run_id": "of-the-day-after"})
    assert {place for place, _ in made} == set()
    draw(tmp_path / "fresh", Kept(), frames, run | {"run_id": "of-the-day-after"})
    assert read(out) == read(tmp_path / "fresh")


def test_hashes_by_site_know_values_nulls_and_whose_they_are() -> None:
    given = pl.DataFrame({
        "site_id": ["a", "a", "b"], "x": ["1", None, "1"], "y": ["2", "", "2"], "n": [0.1, 0.2, 0.1]
    })  # fmt: skip
    hashes = staff_files._digests({"t": given})
    assert hashes["a"] != hashes["b"]
    others = [
        given.with_columns(x=pl.lit("1")), given.with_columns(y=pl.col("y").replace("", None)),
        given.with_columns(x=pl.Series(["1:", None, "1"])), given.rename({"n": "m"}),
        given.with_columns(n=pl.Series([0.1, 0.2 + 2**-55, 0.1])), given.head(1),
        given.with_columns(x=pl.Series(["12", None, "1"]), y=pl.Series(["", "", "2"])),
        given.with_columns(n=pl.col("n").cast(pl.String)),
    ]  # fmt: skip
    found = {staff_files._digests({"t": one})["a"]["t"] for one in (given, *others)}
    assert len(found) == len(others) + 1
    swapped = given.with_columns(y=pl.Series(["2", "", "3"]))
    assert staff_files._digests({"t": swapped})["a"] == hashes["a"]
