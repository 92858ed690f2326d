"""The one error of the pages."""


class ReportError(ValueError):
    """A frame that may not or cannot be drawn; nothing of the page set was replaced."""
