"""Altair, imported by the first drawing that is made: pages whose drawings are kept need none."""

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import altair
else:

    class _Late:
        """Stands for a module until something of it is read."""

        def __init__(self, name: str) -> None:
            self._name = name

        def __getattr__(self, name: str) -> Any:
            return getattr(import_module(self._name), name)

    altair = _Late("altair")

__all__ = ["altair", "unchecked"]


@contextmanager
def unchecked() -> Iterator[None]:
    """Build without Altair's validation of every step; a test validates every drawing."""
    from altair.utils.schemapi import debug_mode  # noqa: PLC0415

    with debug_mode(arg=False):
        yield
