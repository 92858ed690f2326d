"""`drytally map`: lead a clinic from samples of its own export to a mapping that holds."""

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from pipeline.errors import MappingError, UsageError
from pipeline.intake.find import REFERENCE_FOLDER, SITE_ID
from pipeline.intake.mapping import MAPPING

SCHEMA_VERSION = 2
NEEDS_ATTENTION = 3
ROUNDS = 6
CLOCK = (
    "the log and the records fit best with these minutes added to the log's times (fast is"
    " negative, slow is positive). Is the log's clock off so much, when you look at both clocks?"
)
Ask = Callable[[Any], Any]


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = "Leads from samples to a mapping that holds."
    parser.add_argument(
        "samples", nargs="+", type=Path, metavar="SAMPLE",
        help="export files of the site, one of each kind, the chamber's log among them",
    )  # fmt: skip
    parser.add_argument("--site", required=True, metavar="ID", help="the clinic's id")
    parser.add_argument(
        "--exports", type=Path, metavar="DIR",
        help="exports folder (told by itself where the sample lies in one)",
    )  # fmt: skip
    parser.add_argument("--zone", metavar="ZONE", help="the site's time zone, without --exports")
    parser.add_argument(
        "--out", type=Path, metavar="FILE",
        help=f"mapping to write or go on with ({MAPPING} in the site's folder)",
    )  # fmt: skip
    parser.add_argument(
        "--no-questions", action="store_true", help="leave questions as comments in the file"
    )
    parser.add_argument("--json", action="store_true", help="the draft and its questions as JSON")


def run(given: argparse.Namespace) -> int:
    """Draft, ask, show rows as understood, write the mapping, check the samples with it."""
    if not SITE_ID.fullmatch(given.site):
        raise UsageError(
            "that is no site id", expected="letters, digits, '-' and '_', at most 40 characters"
        )
    for path in given.samples:
        if not path.is_file():
            raise UsageError(f"there is no file {path}")
    exports = given.exports or _exports_beside(given.samples[0])
    out = given.out or _place(exports, given.site)
    before = out.read_text("utf-8") if out.is_file() else ""
    ask = None if given.no_questions or given.json or not sys.stdin.isatty() else _asked
    draft, understood = _led(given, before, exports, ask)
    text = draft.finished()
    _write(out, text)
    zone = given.zone or next(iter(_listed(exports, given.site, "sites.csv", "time_zone")), "UTC")
    rows = _rows(understood, text, zone)
    if given.json:
        print(
            json.dumps(_record(given, out, draft, understood, rows), indent=1, ensure_ascii=False)
        )
        return NEEDS_ATTENTION if draft.questions else 0
    for line in _told(draft, understood, out):
        print(line)
    for shown, examples in rows:
        print(f"{shown}, rows as understood:")
        for example in examples:
            print(f"  {example}")
    if draft.questions:
        print(f"Settle each question in {out}: take away its '# ', write the answer, and run map"
              " again.")  # fmt: skip
        return NEEDS_ATTENTION
    return _check(given, exports, out, ask)


def _exports_beside(sample: Path) -> Path | None:
    folder = sample.resolve().parent.parent
    return folder if (folder / REFERENCE_FOLDER).is_dir() else None


def _place(exports: Path | None, site: str) -> Path:
    return exports / site / MAPPING if exports is not None else Path(MAPPING)


def _led(
    given: argparse.Namespace, before: str, exports: Path | None, ask: Ask | None
) -> tuple[Any, Any]:
    """Draft again and again until every question has been asked once."""
    from pipeline.drafting.lead import draft_mapping  # noqa: PLC0415
    from pipeline.drafting.sample import read_sample  # noqa: PLC0415
    from schemas.exports.catalogue import EXPORTS, columns_of  # noqa: PLC0415

    tables = {name: columns_of(model) for name, model in EXPORTS.items()}
    samples = [read_sample(path, given.site) for path in given.samples]
    where, chambers = f"{given.site}/{MAPPING}", _chambers(exports, given.site)
    _sound(before, where, tables)
    text, declined = before, set()
    draft, understood = draft_mapping(samples, tables, text, where, chambers, {})
    evidence = list(draft.told)
    for _ in range(ROUNDS if ask else 0):
        open_now = [q for q in draft.questions if q.path not in declined]
        if not open_now or ask is None:
            break
        for question in open_now:
            answer = ask(question)
            if answer is None:
                declined.add(question.path)
            else:
                draft.answer(question, answer)
        text = draft.text
        draft, understood = draft_mapping(samples, tables, text, where, chambers, {})
        evidence += draft.told
    draft.told = evidence
    _name_by_pattern(understood, draft, given.site)
    return draft, understood


def _name_by_pattern(understood: Any, draft: Any, site: str) -> None:
    """Give the samples the names under which check and pages show them once the mapping holds."""
    from pipeline.commands.check import today  # noqa: PLC0415
    from pipeline.intake.mapping import parse_mapping  # noqa: PLC0415
    from pipeline.intake.names import EXPORT_TABLES, patterned_name  # noqa: PLC0415

    mapping = parse_mapping(draft.text, f"{site}/{MAPPING}", EXPORT_TABLES)
    for one in understood:
        own = one.sample.path.name
        section = mapping.section_of(own, EXPORT_TABLES)
        files = section.files if section is not None else ()
        one.sample.shown = f"{site}/{patterned_name(own, one.places.table, files, today())}"


def _sound(text: str, where: str, tables: Any) -> None:
    """Tell every mistake of a mapping that is there already, before anything is added to it."""
    from pipeline.intake.mapping_check import all_mistakes  # noqa: PLC0415

    if mistakes := all_mistakes(text, where, tables):
        raise MappingError.of_all(mistakes)


def _chambers(exports: Path | None, site: str) -> list[str]:
    """Return the chambers that reference/dryers.csv lists at the site."""
    return _listed(exports, site, "dryers.csv", "dryer_id")


def _listed(exports: Path | None, site: str, name: str, column: str) -> list[str]:
    """Return what a reference table in CSV says of a site in one column."""
    import csv  # noqa: PLC0415

    file = exports / REFERENCE_FOLDER / name if exports is not None else None
    if file is None or not file.is_file():
        return []
    with file.open(encoding="utf-8-sig", newline="") as stream:
        rows = csv.DictReader(stream)
        return [r[column] for r in rows if r.get("site_id") == site and r.get(column)]


def _asked(question: Any) -> Any:
    """Ask one question at the terminal; an empty answer takes the default, or leaves it open."""
    from pipeline.intake.mapping_edit import literal  # noqa: PLC0415

    print(f"\n{question.path[-1]}: {question.text}", file=sys.stderr)
    for at, choice in enumerate(question.choices, start=1):
        mark = " (Enter)" if choice == question.default else ""
        print(f"  {at}  {literal(choice)}{mark}", file=sys.stderr)
    leave = "" if question.default is not None else " (Enter)"
    print(f"  0  leave it open{leave}", file=sys.stderr)
    while True:
        print("> ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        answer = line.strip()
        if not answer:
            return question.default if line else None
        if answer == "0":
            return None
        if answer.isdigit() and 1 <= int(answer) <= len(question.choices):
            return question.choices[int(answer) - 1]
        named = [c for c in question.choices if str(c).lower() == answer.lower()]
        if named:
            return named[0]
        print("  Write one of the numbers.", file=sys.stderr)


def _write(out: Path, text: str) -> None:
    """Write the mapping whole, readable by its owner alone."""
    out.parent.mkdir(parents=True, exist_ok=True)
    aside = out.with_name(f".{out.name}.new")
    handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(text)
    aside.replace(out)


def _told(draft: Any, understood: Any, out: Path) -> list[str]:
    from pipeline.checking.shown import may_show_header  # noqa: PLC0415
    from pipeline.intake.mapping_edit import key_text, literal  # noqa: PLC0415

    lines = []
    for one in understood:
        kind = one.places.table
        lines.append(f"{one.sample.shown}: {one.sample.raw.cells.height} rows, read as {kind}"
                     f" ([{one.section}])")  # fmt: skip
        shown = [h for h in one.places.dropped if may_show_header(h)]
        if one.places.dropped:
            more = len(one.places.dropped) - len(shown)
            names = ", ".join([*shown[:12], *([f"{more} more"] if more else [])])
            lines.append(f"  not read: {names}")
    lines.append(f"{out}: {len(draft.told)} keys settled, {len(draft.questions)} questions open")
    for path, value, evidence in draft.told:
        lines.append(f"  {'.'.join(map(key_text, path))} = {literal(value)}  ({evidence})")
    for question in draft.questions:
        lines.append(f"  open: {'.'.join(map(key_text, question.path))}: {question.text}")
    return lines


def _rows(understood: Any, text: str, zone: str) -> list[tuple[str, list[str]]]:
    """Return three rows of each sample as the mapping reads them, ids left out."""
    from pipeline.drafting.rows import rows_as_understood  # noqa: PLC0415

    return [(one.sample.shown, rows_as_understood(one, text, zone)) for one in understood]


def _record(
    given: argparse.Namespace, out: Path, draft: Any, understood: Any, rows: Any
) -> dict[str, Any]:
    return {
        "schema_version": SCHEMA_VERSION,
        "site_id": given.site,
        "mapping": str(out),
        "samples": [
            {"file": one.sample.shown, "table": one.places.table, "section": one.section,
             "rows": one.sample.raw.cells.height, "dropped": len(one.places.dropped),
             "examples": dict(rows).get(one.sample.shown, [])}
            for one in understood
        ],
        "settled": [
            {"path": list(path), "value": value, "evidence": evidence}
            for path, value, evidence in draft.told
        ],
        "questions": [
            {"path": list(q.path), "text": q.text, "choices": list(q.choices), "default": q.default}
            for q in draft.questions
        ],
        "draft": draft.finished(),
    }  # fmt: skip


def _check(given: argparse.Namespace, exports: Path | None, out: Path, ask: Ask | None) -> int:
    """Run the very check that a refresh runs, where the mapping lies where it is looked for."""
    from pipeline.commands import check  # noqa: PLC0415

    print("\nCheck of the samples with this mapping:")
    words = [str(path) for path in given.samples] + ["--site", given.site]
    if exports is not None:
        words += ["--exports", str(exports)]
    elif given.zone is not None:
        words += ["--zone", given.zone]
    else:
        print("not done: give --exports DIR or --zone ZONE")
        return 0
    parser = argparse.ArgumentParser()
    check.configure(parser)
    asked = parser.parse_args([*words, "--mapping", str(out)])
    found, unchecked = check.judge(asked)
    code = check.say(asked, found, unchecked)
    edits = {one.join_edit.path: one.join_edit for one in found if one.join_edit is not None}
    if not edits:
        return code
    if _clock_set(edits.values(), out, ask):
        print("\nThe check again, with the log's clock set:")
        return check.run(asked)
    print(f"Settle the clock in {out} once you have looked at both clocks: take away the '# ' of"
          " clock_offset_minutes, or change the number that stands there; then run map"
          " again.")  # fmt: skip
    return code


def _clock_set(edits: Iterable[Any], out: Path, ask: Ask | None) -> bool:
    """Ask whether a log's clock is off as it seems; what is left open becomes a question."""
    from pipeline.drafting.draft import Draft, Question, without_questions  # noqa: PLC0415
    from pipeline.intake.mapping_edit import with_key  # noqa: PLC0415
    from pipeline.toml_lines import key_lines  # noqa: PLC0415

    draft = Draft(without_questions(out.read_text("utf-8")))
    answers = []
    for edit in edits:
        question = Question(edit.path, CLOCK, (edit.value,))
        answers.append(ask(question) if ask is not None else None)
        if answers[-1] is not None:
            draft.text = with_key(draft.text, edit.path, answers[-1])
        elif edit.path not in key_lines(draft.text):
            draft.ask(question)
    _write(out, draft.finished())
    return None not in answers
