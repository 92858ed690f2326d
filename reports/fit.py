"""A figure that cannot be drawn gives way to its reason, and the figures beside it stand."""

from dataclasses import replace

import polars as pl

from reports.errors import ReportError, UnfitError
from reports.figure import Figure, FigureRule, Frames, nothing_to_compare

TOO_MANY = "Its numbers are in the warehouse: see drytally tables and drytally query."
BROKEN = "Its numbers may be sound, its picture is not: please report it with the run's id."


def figure_or_reason(rule: FigureRule, frames: Frames) -> tuple[Figure, str | None]:
    """Make a figure, or the one that says why there is none.

    Args:
        rule: the figure's function; its name serves as id where it fails.
        frames: tables by name.

    Returns:
        The figure, and None or the reason why it could not be made.

    Raises:
        ReportError: where a frame may not be shown at all; a page with it must not be written.
    """
    try:
        return rule(frames), None
    except UnfitError as error:
        return _reason(rule.__name__.replace("_", "-"), str(error), TOO_MANY)
    except ReportError:
        raise
    except Exception as error:  # any defect of one figure: the other figures must not go with it
        return _reason(rule.__name__.replace("_", "-"), type(error).__name__, BROKEN)


def without_picture(figure: Figure, error: Exception) -> tuple[Figure, str]:
    """Return a figure without the drawings that failed; its numbers stay."""
    reason = f"the drawing of '{figure.id}' failed ({type(error).__name__})"
    caveats = (f"There is no picture: {reason}.", *figure.caveats)
    return replace(figure, panels=(), caveats=caveats), reason


def _reason(id_: str, why: str, what_now: str) -> tuple[Figure, str]:
    name = id_.replace("-", " ")
    figure = Figure(
        id=id_, question=f"{name[:1].upper()}{name[1:]}",
        title=nothing_to_compare("not_drawn", "This figure could not be drawn"),
        subtitle=f"Reason: {why}. {what_now}", alt=f"No chart: {why}.",
        source_table="measure_run", method_anchor="data-quality", table=pl.DataFrame(), columns=(),
    )  # fmt: skip
    return figure, f"figure '{id_}': {why}"
