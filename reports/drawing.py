"""Static drawings and the one chart runtime of a page."""

import json
import multiprocessing
import os
import re
import sys
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import cache
from importlib import resources
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

import vl_convert

if TYPE_CHECKING:
    from reports.figure import Spec

SCRIPTS = ("look_up.js", "script.js")
MOST_WORKERS = 4
_NUMBER = re.compile(r'<svg [^>]*?width="([\d.]+)" height="([\d.]+)"[^>]*>')
_ARIA = re.compile(r' (?:role|aria-[a-z]+|class)="[^"]*"')
_SPACE = re.compile(r' xmlns(?::xlink)?="[^"]*"')
FONT = ' font-family="sans-serif" font-size="12px"'
# What says nothing: values that hold anyway, shapes without a mark, the groups then left empty.
_DEFAULTS = re.compile(
    r' (?:opacity="1"|pointer-events="none"|transform="translate\(0,0\)"|[xy]2="0"'
    r'|stroke-width="1"|stroke-dasharray="1,0"|font-weight="normal")'
)
_UNSEEN = re.compile(r'<path d="[^"]*"(?: display="none")?/>')
_EMPTY = re.compile(r"<g(?: [^>]*)?></g>")
_DIGITS = re.compile(r"(\d+\.\d{3})\d+")
_KNOWN: dict[str, str] = {}
_MOST_KNOWN = 2000


class Drawings:
    """Draws specifications while the figures after them are still being made.

    A drawing takes some 50 ms, a set of pages well over a hundred of them: they are drawn in other
    processes where there is more than one core. The same specification is drawn once a process.
    """

    def __init__(self) -> None:
        self._waiting: dict[str, Future[str]] = {}
        self._pool: ProcessPoolExecutor | None = None
        self._may_share = _may_share()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)

    def begin(self, spec: "Spec") -> None:
        """Have a specification drawn, unless it was before."""
        text = _text(spec)
        if not self._may_share or text in _KNOWN or text in self._waiting:
            return
        try:
            self._pool = self._pool or ProcessPoolExecutor(
                min(MOST_WORKERS, len(os.sched_getaffinity(0))),
                mp_context=multiprocessing.get_context("spawn"),
            )
            self._waiting[text] = self._pool.submit(_drawn, text)
        except (OSError, BrokenProcessPool):  # no room for another process: draw here
            self._may_share = False

    def svg(self, spec: "Spec") -> str:
        """Return the drawing of a specification as SVG markup; see `static_svg`."""
        text = _text(spec)
        if text not in _KNOWN:
            if len(_KNOWN) >= _MOST_KNOWN:
                _KNOWN.clear()
            waiting = self._waiting.pop(text, None)
            try:
                _KNOWN[text] = waiting.result() if waiting else _drawn(text)
            except BrokenProcessPool:
                self._may_share = False
                _KNOWN[text] = _drawn(text)
        return _KNOWN[text]


def static_svg(spec: "Spec") -> str:
    """Draw a specification as SVG markup without roles, classes or a fixed size.

    The picture's words are given once, by the text beside it; the markup keeps only shapes.
    """
    return _drawn(_text(spec))


def _text(spec: "Spec") -> str:
    return json.dumps(spec, ensure_ascii=False, separators=(",", ":"))


def _drawn(text: str) -> str:
    svg = vl_convert.vegalite_to_svg(text)
    size = _NUMBER.match(svg)
    if size is None:
        raise ValueError("the drawing has no size")
    width, height = size.groups()
    body = _trimmed(_SPACE.sub("", _ARIA.sub("", svg[size.end() :])))
    return (
        f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}"{FONT} '
        f'aria-hidden="true" focusable="false">{body}'
    )


def _trimmed(body: str) -> str:
    """Leave out what changes nothing that is seen: a third of the bytes."""
    parts = re.split(r"(>[^<]*<)", body.replace(FONT, ""))
    # Words between the elements are kept as they are.
    parts[::2] = [_DIGITS.sub(r"\1", _DEFAULTS.sub("", part)) for part in parts[::2]]
    body = _UNSEEN.sub("", "".join(parts))
    while (left := _EMPTY.sub("", body)) != body:
        body = left
    return body


def _may_share() -> bool:
    """Tell whether other processes can be started: more than one core, and a program in a file."""
    program = getattr(sys.modules.get("__main__"), "__file__", None)
    return (
        len(os.sched_getaffinity(0)) > 1
        and not multiprocessing.current_process().daemon
        and (program is None or Path(program).exists())
    )


@cache
def runtime() -> str:
    """Bundle Vega, Vega-Lite and Vega-Embed with the page's scripts; the same bytes every time."""
    script = "\n".join(
        resources.files("reports").joinpath(name).read_text(encoding="utf-8") for name in SCRIPTS
    )
    bundle: str = vl_convert.javascript_bundle(script)
    return bundle.replace("</script", "<\\/script").replace("<!--", "<\\!--")
