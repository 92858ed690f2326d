"""The text of each figure: made, or taken over where its tables, settings and code are the same."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

import jinja2

from reports import drawing, views
from reports.figure import Dashboard, FigureRule, LegendEntry
from reports.fit import figure_or_reason
from reports.kept import Asked, Inputs, Kept, Record, taken
from reports.slots import Slot
from reports.spoken import fill, spoken

KIND = "figures"


@dataclass
class FigureText:
    """What a page needs of a figure; its text is written once its slot is known."""

    id: str
    question: str
    title: str
    slot: Slot
    write: Callable[[Slot], str]


class FigureTexts:
    """Makes the figures of one run, or takes their texts over.

    Args:
        inputs: tables and settings of the run.
        kept: what the last run left and this one leaves.
        environment: of the templates.
        unfit: takes the reason of every figure that could not be drawn.
    """

    def __init__(
        self, inputs: Inputs, kept: Kept, environment: jinja2.Environment, unfit: list[str]
    ) -> None:
        self.inputs, self.kept, self.environment = inputs, kept, environment
        self.unfit = unfit

    def of_page(self, page: Dashboard) -> list[list[FigureText]]:
        """Return a page's figures, section by section."""
        return [
            [self.text(f"{page.id} {at} {place}", rule)
             for place, rule in enumerate(section.figures)]
            for at, section in enumerate(page.sections)
        ]  # fmt: skip

    def text(self, key: str, rule: FigureRule) -> FigureText:
        """Return one figure's text.

        Args:
            key: where it stands: page, section and place.
            rule: its function.
        """
        made: list[_Made] = []
        record = taken(self.kept.of(KIND).get(key), self.inputs, lambda: self._record(rule, made))
        if not made or made[0].is_sound:
            self._carry(key, record)

        def write(slot: Slot) -> str:
            placed = _placed(slot)
            if record["html"] is None or record["placed"] != placed:
                made[:] = made or [self._made(rule)]
                record.update(html=self._html(made[0], slot), placed=placed)
                record.update(self._read(made[0]))
            return str(record["html"])

        return FigureText(
            record["id"], record["question"], record["title"], _slot(record["slot"]), write
        )

    def _carry(self, key: str, record: Record) -> None:
        self.kept.keep(KIND, key, record)
        drawing.carry(record["drawings"])

    def _made(self, rule: FigureRule) -> "_Made":
        frames, settings = self.inputs.asked()
        before = len(self.unfit)
        with drawing.noted() as drawings:
            figure, reason = figure_or_reason(rule, frames)
            self.unfit += [reason] if reason else []
            told = spoken(figure, settings)
            view = views.view(told, self.unfit)
        is_sound = len(self.unfit) == before
        return _Made(view, told.title.text, frames, settings, drawings, is_sound)

    def _record(self, rule: FigureRule, made: "list[_Made]") -> Record:
        one = self._made(rule)
        made.append(one)
        return {
            "id": one.view.id, "question": one.view.question, "title": one.title,
            "slot": asdict(one.view.slot) | {"legend": [asdict(e) for e in one.view.slot.legend]},
            "html": None, "placed": None, **self._read(one),
        }  # fmt: skip

    def _read(self, made: "_Made") -> Record:
        return {
            **self.inputs.hashes([*made.frames.names], [*made.settings.names]),
            "drawings": made.drawings,
        }

    def _html(self, made: "_Made", slot: Slot) -> str:
        module: Any = self.environment.get_template("figure.html.j2").module
        return fill(str(module.figure(made.view, slot)), made.settings)


@dataclass(frozen=True)
class _Made:
    """A figure as drawn, and what it asked for."""

    view: views.View
    title: str
    frames: Asked[Any]
    settings: Asked[Any]
    drawings: list[str]
    is_sound: bool


def _placed(slot: Slot) -> list[Any]:
    return [slot.is_lone, slot.is_tall, [[entry.sign, entry.words] for entry in slot.legend]]


def _slot(given: Mapping[str, Any]) -> Slot:
    legend = tuple(LegendEntry(**entry) for entry in given["legend"])
    return Slot(**{**given, "legend": legend})
