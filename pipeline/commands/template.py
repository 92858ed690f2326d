"""`drytally template`: a printable bench log and spreadsheets that are the contract."""

import argparse
from pathlib import Path

from pipeline.errors import UsageError
from pipeline.intake.find import SITE_ID

FORMS = ("sessions", "dose_checks")


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--site", required=True, metavar="ID", help="the clinic's id")
    parser.add_argument("--into", type=Path, required=True, metavar="DIR", help="folder to fill")


def run(given: argparse.Namespace) -> int:
    """Write the forms of one clinic; a file that is there is never written over."""
    from reports.bench_log import bench_log  # noqa: PLC0415
    from reports.spreadsheet_form import spreadsheet_form  # noqa: PLC0415
    from schemas.exports.catalogue import EXPORTS, columns_of  # noqa: PLC0415

    if not SITE_ID.fullmatch(given.site):
        raise UsageError(
            "that is no site id", expected="letters, digits, '-' and '_', at most 40 characters"
        )
    folder = given.into / given.site
    page = given.into / f"bench_log_{given.site}.html"
    books = {name: folder / f"{name}.xlsx" for name in FORMS}
    for path in (page, *books.values()):
        if path.exists():
            raise UsageError(
                f"{path} is there already and may be filled in",
                todo="Move it away, or choose another folder with --into.",
            )
    folder.mkdir(parents=True, exist_ok=True)
    specs = {spec.name: spec for spec in columns_of(EXPORTS["sessions"])}
    page.write_text(bench_log(given.site, specs), encoding="utf-8")
    for name, path in books.items():
        path.write_bytes(spreadsheet_form(EXPORTS[name]))
    print(f"{page}: print it on A4, one line for each aid")
    for path in books.values():
        print(f"{path}: fill it in and leave it in the folder {given.site} of your exports")
    return 0
