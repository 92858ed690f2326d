"""Errors a user is meant to read: where, what was found, what was expected, what happened."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self


class DrytallyError(Exception):
    """A stated failure; the command line prints it and exits with its code, never a traceback.

    Args:
        problem: where and what is wrong, in one sentence.
        found: what was there, already redacted.
        expected: what should be there.
        done: what happened to the data.
        todo: what the reader can do next.
    """

    exit_code = 1

    def __init__(
        self,
        problem: str,
        *,
        found: str | None = None,
        expected: str | None = None,
        done: str | None = None,
        todo: str | None = None,
    ) -> None:
        self.problem, self.found, self.expected = problem, found, expected
        self.done, self.todo = done, todo
        lines = [problem]
        lines += [f"  found: {found}"] if found else []
        lines += [f"  expected: {expected}"] if expected else []
        lines += [f"  {done}"] if done else []
        lines += [f"  {todo}"] if todo else []
        super().__init__("\n".join(lines))

    @classmethod
    def of_all(cls, errors: Sequence[Self], done: str | None = None) -> Self:
        """Return one error that tells every mistake, each with its line.

        Args:
            errors: the mistakes, of one kind.
            done: what happened to the data, where it is not what the first of them says.
        """
        done = done or errors[0].done
        if len(errors) == 1:
            e = errors[0]
            return cls(e.problem, found=e.found, expected=e.expected, done=done, todo=e.todo)
        told = [cls(e.problem, found=e.found, expected=e.expected, todo=e.todo) for e in errors]
        return cls(
            "\n".join(str(error) for error in told),
            done=f"{len(errors)} mistakes. {done or ''}".strip(),
        )


class UsageError(DrytallyError):
    """The command was called in a way it does not offer."""

    exit_code = 2


class SettingError(DrytallyError):
    """A value in the group's or a site's settings file is unusable."""


class MappingError(DrytallyError):
    """A site's mapping or corrections are unusable; the message names the file and the line."""

    def __init__(self, problem: str, *, way: "Way | None" = None, **told: str | None) -> None:
        super().__init__(problem, **told)
        self.way = way


class KeyFileError(DrytallyError):
    """The key that hides identifiers is missing or unsafe."""


@dataclass(frozen=True)
class Way:
    """One key of the site's mapping that would lift a refusal, told so that a machine can write it.

    Attributes:
        path: the keys below the file's section, such as ("columns", "ear"); those of a mistake in
            the mapping itself start with the section.
        value: what to write; None where a person must choose.
        choices: what can be written, the likeliest first.
        is_name: the key itself is called so, not its value.
    """

    path: tuple[str, ...]
    value: str | int | bool | None = None
    choices: tuple[str | int | bool, ...] = ()
    is_name: bool = False


class FileRefusedError(DrytallyError):
    """An export file cannot be read as the table it should be; none of its rows is loaded."""

    def __init__(self, problem: str, *, ways: tuple[Way, ...] = (), **told: str | None) -> None:
        super().__init__(problem, **told)
        self.ways = ways


class RegistryError(DrytallyError):
    """A list of the program lacks a word that the contract allows: a defect, nothing is shown."""


class AccountError(DrytallyError):
    """Rows read do not equal rows accepted, quarantined and duplicate: a defect, run stopped."""


class StoreError(DrytallyError):
    """The store cannot be used: locked, damaged, of another version, or out of space."""


class HandoutError(DrytallyError):
    """A session that the sheets do not cover; no sheet was written."""


class QueryError(DrytallyError):
    """An analyst's query was refused, failed or ran over its limit."""


def first_line(error: BaseException) -> str:
    """Return the first line of another library's message, or the error's name."""
    return str(error).splitlines()[0] if str(error) else type(error).__name__
