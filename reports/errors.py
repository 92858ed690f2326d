"""The errors of the pages."""


class ReportError(ValueError):
    """A frame that may not or cannot be drawn; nothing of the page set was replaced."""


class UnfitError(ReportError):
    """A frame with more rows than a reader can use; the figure gives way to this reason."""


class DrawingError(ReportError):
    """A drawing that lacks a row of its table; the figure keeps its numbers and says so."""
