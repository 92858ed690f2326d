"""A draft of a mapping: keys that samples settle, and questions that only a person can answer."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from pipeline.intake.mapping_edit import Value, key_text, literal, with_key
from pipeline.toml_lines import HEADER, key_lines

OPEN = "  # question: "
QUESTION_LINE = re.compile(r"^# .*  # question: ")
LEAVE = "(leave it out)"


@dataclass(frozen=True)
class Question:
    """One thing that the samples do not settle.

    Attributes:
        path: the key that the answer sets, section first.
        text: the question, in a sentence.
        choices: the answers there are; empty where any text or number is one.
        also: keys that an answer sets as well, such as the column whose unit was asked.
        default: the choice that an empty answer takes, if a person may take one.
        twins: keys that the same answer sets, as where two columns hold the same word.
    """

    path: tuple[str, ...]
    text: str
    choices: tuple[Value, ...] = ()
    also: tuple[tuple[tuple[str, ...], Value], ...] = ()
    default: Value | None = None
    twins: tuple[tuple[str, ...], ...] = ()

    def lines(self) -> list[tuple[tuple[str, ...], str]]:
        """Return each key's section, and the comment that asks for it."""
        likely = self.choices[0] if len(self.choices) == 1 else self.default
        value = literal(likely) if likely is not None else '"?"'
        shown = ", ".join(literal(choice) for choice in self.choices)
        told = f"{self.text} {shown}".strip()
        return [
            (path[:-1], f"# {key_text(path[-1])} = {value}{OPEN}{told}")
            for path in (self.path, *self.twins)
        ]


@dataclass
class Draft:
    """The text of a mapping in the making.

    Attributes:
        text: the mapping so far; what stood there before is kept.
        told: keys added, each with its evidence.
        questions: what is still to be answered.
        sections: section by sample.
    """

    text: str = ""
    told: list[tuple[tuple[str, ...], Value, str]] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)

    def say(self, path: tuple[str, ...], value: Value, evidence: str) -> None:
        """Add a key that the sample settles."""
        self.text = with_key(self.text, path, value)
        self.told.append((path, value, evidence))

    def ask(self, question: Question) -> None:
        """Add a question."""
        for at, other in enumerate(self.questions):
            same = other.path[-1] == question.path[-1] and other.choices == question.choices
            if same and "values" in question.path and other.path[0] == question.path[0]:
                self.questions[at] = replace(other, twins=(*other.twins, question.path))
                return
        self.questions.append(question)

    def unsay(self, path: tuple[str, ...]) -> bool:
        """Take back a key that this draft added; what stood there before is never taken away."""
        if path not in [told for told, _, _ in self.told]:
            return False
        lines = self.text.splitlines()
        del lines[key_lines(self.text)[path] - 1]
        self.text = "\n".join(lines) + "\n"
        self.told = [one for one in self.told if one[0] != path]
        return True

    def answer(self, question: Question, value: Value | None) -> None:
        """Take the answer to a question; None leaves what it is about out."""
        if value is not None:
            for path in (question.path, *question.twins):
                self.text = with_key(self.text, path, value)
            for path, more in question.also:
                self.text = with_key(self.text, path, more)
        self.questions.remove(question)

    def finished(self) -> str:
        """Return the mapping's text, open questions as comments in their sections."""
        text = self.text
        for question in self.questions:
            for path, value in question.also:
                *parents, key = path
                line = (
                    f"# {key_text(key)} = {literal(value)}{OPEN}once the question on it is settled"
                )
                text = _with_comment(text, tuple(parents), line)
            for section, line in question.lines():
                text = _with_comment(text, section, line)
        return text


def without_questions(text: str) -> str:
    """Return a mapping without the comments in which an earlier draft asked."""
    kept = [line for line in text.splitlines() if not QUESTION_LINE.match(line)]
    return "\n".join(kept).strip() + "\n" if any(line.strip() for line in kept) else ""


def _with_comment(text: str, parents: Sequence[str], comment: str) -> str:
    lines = text.splitlines()
    header = f"[{'.'.join(key_text(part) for part in parents)}]"
    at = next((n for n, line in enumerate(lines) if line.strip() == header), None)
    if at is None:
        return "\n".join([*lines, *([""] if lines else []), header, comment]) + "\n"
    end = next((n for n in range(at + 1, len(lines)) if HEADER.match(lines[n])), len(lines))
    while end > at + 1 and not lines[end - 1].strip():
        end -= 1
    lines.insert(end, comment)
    return "\n".join(lines) + "\n"
