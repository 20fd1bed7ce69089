"""The page: drawing, numbers, answer and what moves them, put together for one tab."""

from __future__ import annotations

import logging
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final, TypeVar

from bokeh.core.templates import get_env
from bokeh.events import Pan, PanEnd, PanStart, Tap
from bokeh.layouts import column, row
from bokeh.models import GlobalInlineStyleSheet, InlineStyleSheet
from bokeh.models.widgets import Button, Div, RadioButtonGroup, Select

from frontcheck.bench import page_words as words
from frontcheck.bench.model import Bench, invented, quick_lines, screened
from frontcheck.bench.panels import PANELS, WIDE
from frontcheck.bench.photo_tab import Photo, PhotoPanel
from frontcheck.bench.saves import offers
from frontcheck.bench.side_plot import SidePlot
from frontcheck.caution import CAUTION, DRAWING
from frontcheck.comparison.two_fronts import compare
from frontcheck.errors import FrontcheckError
from frontcheck.screening import with_motion

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from concurrent.futures import Future

    from bokeh.document import Document
    from bokeh.model import Model

    from frontcheck.bench.model import Point, Step
    from frontcheck.body.motion import MotionStudy
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.front.front import Front
    from frontcheck.screening import Screening

T = TypeVar("T")

_POOL: Final = ThreadPoolExecutor(2, thread_name_prefix="bench")
"""Works out what would hold a drag up."""
_REST_MS: Final = 250
"""How long a shape must rest before all of it is worked out, which slows a drag: own choice."""
_LEFT: Final = 786
"""Width of drawing and answer [px]."""
_DARK: Final = "html { filter: invert(.93) hue-rotate(180deg); }"
"""The light page with its lightness turned over: hues, marks and contrast stay."""
SHADES: Final = {
    "as the system": f"@media (prefers-color-scheme: dark) {{ {_DARK} }}",
    "light": "",
    "dark": _DARK,
}
_PAPER: Final = """
{% extends base %}
{% block preamble %}<link rel="icon" href="data:,">{% endblock %}
{% block postamble %}{{ super() }}
<script>Bokeh.require("core/ui_gestures").UIGestures.press_threshold = 1e9;</script>
{% endblock %}
"""
"""A browser asks for an icon where it is told of none; a hand that holds before it drags drags."""
_DRAGS: Final = ("features", "points")


def page(doc: Document, shapes: Sequence[Front]) -> None:
    """Fill the document of one tab with shapes A and B; without any, with an invented nose."""
    Page(doc, Bench(*(shapes[:2] or (invented(),)))).show()


class Page:
    """One tab."""

    def __init__(self, doc: Document, bench: Bench) -> None:
        self.doc, self.bench = doc, bench
        self.shade, self.tab, self.drags = "as the system", 0, "features"
        self.lengths = words.Lengths("mm")
        self.result: Screening | None = None
        self.comparison: Comparison | None = None
        self.studied: tuple[Front, MotionStudy] | None = None
        self.of_other: tuple[Front, Screening] | None = None
        self.late, self.refused = True, ""
        self.turn = self.working = 0
        self.held: dict[int, Point] = {}
        self.photo = Photo()
        for source in self.photo.sources.values():
            self.on(source, "data", self._clicked)
        doc.title = "frontcheck: try shapes"
        doc.template = get_env().from_string(_PAPER)

    # Building.

    def show(self) -> None:
        """Build the page anew, in the unit and shade that were chosen."""
        self.plot = SidePlot(self.lengths)
        self.sheet = InlineStyleSheet(css=_text("page.css"))
        self.head_sheet = GlobalInlineStyleSheet()
        self._shaded(self.shade)
        self.state, self.numbers, self.answer = map(self._div, ("state", "numbers", "answer"))
        figure = self.plot.figure
        for event, work in (
            (PanStart, self._taken), (Pan, self._dragged), (PanEnd, self._let_go),
            (Tap, self._let_go),  # what stays taken hold of would go with the next drag
        ):  # fmt: skip
            figure.on_event(event, partial(self._happened, work))
        for name in _DRAGS:
            self.on(self.plot.sources[name], "data", partial(self._all_there, name))
        self.panels = [kind(self) for kind in (*PANELS, PhotoPanel)]
        tabs = RadioButtonGroup(  # not the library's tabs, which no key turns
            labels=[panel.title for panel in self.panels], name="tabs", width=WIDE,
            active=self.tab, stylesheets=[self.sheet],
        )  # fmt: skip
        self.on(tabs, "active", self._turned)
        right = column(tabs, *(panel.root for panel in self.panels))
        key = self._div("key", width=_LEFT)
        key.text = words.KEY
        # Nothing above the drawing changes its height: the pointer would be elsewhere in it.
        below = (self.state, self.numbers, self.answer, key)
        left = column(self._head(), self._bar(), figure, self.photo.figure, *below, width=_LEFT)
        sticky = self._div("caution", css_classes=["fc-sticky"], margin=0, width=None)
        sticky.text = f"<p><b>{DRAWING}</b> {CAUTION}</p>"
        sticky.stylesheets = [self.sheet, self.head_sheet]
        self.doc.clear()
        self.doc.add_root(row(left, right, spacing=10))
        self.doc.add_root(sticky)
        other = self.bench.other
        self.plot.frame([*self.bench.front.sections, *(other.sections if other else ())])
        self._turned(self.tab)
        self.changed()

    def _div(self, name: str, **how: Any) -> Div:
        return Div(
            name=name, disable_math=True, stylesheets=[self.sheet], **{"width": _LEFT} | how
        )  # fmt: skip

    def _head(self) -> Any:
        title = self._div("title", width=255)
        other = self.bench.other
        title.text = (
            f"<h1>Try shapes {words.TO_HANDBOOK}</h1><p>A: {escape(self.bench.front.name)}"
            + (f" &nbsp; B: {escape(other.name)}</p>" if other else "</p>")
        )
        unit = self.lengths.unit
        stations: list[Any] = [
            (f"{y!r}", f"{self.lengths.said(y)} {unit}") for y in self.bench.front.stations
        ]
        choices = (
            ("Section, from the centre", "station", stations, repr(self.bench.y), self._go_to, 170),
            ("Unit", "unit", ["mm", "in"], unit, self._measured_in, 66),
            ("Colours", "shade", list(SHADES), self.shade, self._shaded, 130),
        )
        made = []
        for label, name, options, value, work, wide in choices:
            select = Select(title=label, name=name, value=value, width=wide,
                            options=list(options), stylesheets=[self.sheet])  # fmt: skip
            self.on(select, "value", work)
            made.append(select)
        return row(title, *made)

    def _bar(self) -> Any:
        """What a drag takes hold of, since points stand close; undo and redo; what is shown."""
        labels = [f"Drag {name}" for name in _DRAGS]
        what = RadioButtonGroup(labels=labels, active=_DRAGS.index(self.drags), width=200,
                                name="drags", stylesheets=[self.sheet])  # fmt: skip
        self.on(what, "active", lambda i: self._drags(_DRAGS[i]))
        self.plot.drags(self.drags)
        self.undo, self.redo = (
            Button(label=label, name=label.lower(), width=60, stylesheets=[self.sheet])
            for label in ("Undo", "Redo")
        )
        self.undo.on_click(lambda: self.tried(lambda: self._gone(-1)))
        self.redo.on_click(lambda: self.tried(lambda: self._gone(1)))
        return row(what, self.undo, self.redo)

    # What panels ask for.

    def tried(self, work: Callable[[], None]) -> None:
        """Do what was asked for; what was refused before is answered by it."""
        self.refused = ""
        self.kept_up(work)

    def kept_up(self, work: Callable[[], None]) -> None:
        """Do what follows; what is refused is said, and the shape stays."""
        try:
            work()
        except FrontcheckError as error:
            self.bench.draft = None
            self.refused = str(error)
            self.changed()
        except Exception as error:  # noqa: BLE001, a trace is for us and not for a user
            self._fault(error)

    def on(self, model: Model, name: str, work: Callable[[Any], None]) -> None:
        """Have work done with the new value of a property."""
        model.on_change(name, lambda _attr, _old, new: self.kept_up(partial(work, new)))

    def _happened(self, work: Callable[[Any], None], event: Any) -> None:
        self.kept_up(partial(work, event))

    def _fault(self, error: Exception) -> None:
        logging.getLogger(__name__).error("%s: %s", type(error).__name__, error, exc_info=error)
        self.bench.draft, self.refused = None, words.FAULT
        self.say_state()

    def draft(self, step: Step, *, handles: bool = True) -> None:
        """Show a step that a drag has reached."""
        self.bench.draft = step
        self.changed(handles=handles)

    def take(self, step: Step) -> None:
        """Make a step."""
        self.bench.take(step)
        self.changed()

    def settle(self) -> None:
        """Make the step that a drag has reached."""
        if self.bench.draft is not None:
            self.take(self.bench.draft)

    def soon(self, work: Callable[[], None]) -> None:
        """Have work done on the page's own thread, once what is under way is done."""
        self.doc.add_next_tick_callback(partial(self.kept_up, work))

    def behind(self, work: Callable[[], T], done: Callable[[T | None], None]) -> None:
        """Have work done beside the page, and then what follows; None when it was refused."""

        def finished(future: Future[T]) -> None:
            self.soon(lambda: over(future))

        def over(future: Future[T]) -> None:
            try:
                found: T | None = future.result()
            except FrontcheckError as error:
                found, self.refused = None, str(error)
                self.say_state()
            except Exception as error:  # noqa: BLE001
                found = None
                self._fault(error)
            done(found)

        _POOL.submit(work).add_done_callback(finished)

    def say(self, html: str) -> None:
        """Say what is under way."""
        self.state.text = html

    def loaded(self, front: Front | None, as_: str) -> None:
        """Put a shape that was read on the page."""
        if front is None:
            return
        self.refused = ""
        if as_ == "A":
            self.bench.load(front)
        else:
            self.bench.other = front
        self.show()

    @property
    def study(self) -> MotionStudy | None:
        """What becomes of people, of the shape of which it was asked last."""
        return None if self.studied is None else self.studied[1]

    @property
    def current(self) -> bool:
        """Whether that is the shape that is seen."""
        return self.studied is not None and self.studied[0] is self.bench.front

    def struck(self, front: Front, study: MotionStudy) -> None:
        """Show what becomes of people."""
        self.studied = front, study
        if not self.late:
            self._with_people()
        self.show_rest()

    def _with_people(self) -> None:
        if self.studied is not None and self.result is not None and self.current:
            self.result = with_motion(self.result, self.studied[1])

    def offers(self) -> dict[str, Callable[[], bytes]]:
        """Return what can be saved of the present shape."""
        if self.late or self.result is None:
            return {}
        return offers(self.bench.front, self.result, self.bench.y, self.comparison)

    # What a person does.

    def _turned(self, tab: int) -> None:
        self.tab = tab
        for i, panel in enumerate(self.panels):
            panel.root.visible = i == tab
        photo = isinstance(self.panels[tab], PhotoPanel)  # it takes the place of the drawing
        self.plot.figure.visible, self.photo.figure.visible = not photo, photo
        self.panels[tab].fill()

    def _clicked(self, data: dict[str, Any]) -> None:
        self.photo.noted(data)
        self.panels[self.tab].fill()

    def _measured_in(self, unit: str) -> None:
        self.lengths = words.Lengths(unit)
        self.show()

    def _shaded(self, shade: str) -> None:
        self.shade = shade
        self.head_sheet.css = _text("page_head.css") + SHADES[shade]
        self.photo.sheet.css = SHADES[shade].replace("html", ":host")  # turned over again

    def _drags(self, what: str) -> None:
        self.drags = what
        self.plot.drags(what)

    def _go_to(self, y: str) -> None:
        self.bench.y = float(y)
        self.changed(moved=False)

    def _gone(self, by: int) -> None:
        if self.bench.go(by):
            self.changed()

    # A drag: the browser moves the mark by itself and tells where it is when the drag ends. On the
    # way there the place of the pointer says as much, so that lines follow.

    def _taken(self, event: Any) -> None:
        self.began, self.held = (event.x, event.y), {}

    def _dragged(self, event: Any) -> None:
        chosen = self.plot.sources[self.drags].selected.indices
        if not chosen or event.x is None or event.y is None:
            return
        if not self.held:
            section = self.bench.last.front.section(self.bench.y)
            at = list(self.bench.last.features(self.bench.y).values())
            places = chosen if self.drags == "points" else [at[i] for i in chosen]
            self.held = {i: tuple(section.points[i].tolist()) for i in places}
        k = self.lengths.scale
        dx, dz = (
            round((to - start) / k, 1)
            for to, start in zip((event.x, event.y), self.began, strict=True)
        )
        to = {i: (x + dx, z + dz) for i, (x, z) in self.held.items()}
        self.tried(lambda: self.draft(self._step_to(to), handles=False))

    def _step_to(self, to: dict[int, Point]) -> Step:
        start, y = self.bench.last, self.bench.y
        if self.drags == "points":
            return start.with_points(y, to)
        names = {i: name for name, i in start.features(y).items()}
        for i, place in to.items():
            start = start.with_feature(y, names[i], place)
        return start

    def _let_go(self, event: Any) -> None:
        if self.held:
            self._dragged(event)
            self.settle()
        self.held = {}
        self.plot.sources[self.drags].selected.indices = []

    def _all_there(self, name: str, data: dict[str, Any]) -> None:
        """Put back what the Backspace key took out of the drawing: no point is ever deleted."""
        bench = self.bench
        count = len(bench.section if name == "points" else bench.step.features(bench.y))
        if len(data["x"]) != count:
            self.plot.show_shape(bench.step, bench.y)

    # What follows from it.

    def changed(self, *, handles: bool = True, moved: bool = True) -> None:
        """Show the shape and the lines of its section at once, and have the rest follow."""
        bench = self.bench
        if moved:
            self.late = True
            self.turn += 1
        self.plot.show_shape(bench.step, bench.y, handles=handles)
        self.station = quick_lines(bench.front, bench.y)
        if moved:  # what no longer holds is told first, what holds once all is shown
            self._show_numbers()
            self._have_rest_follow()
        self.undo.disabled = bench.at == 0
        self.redo.disabled = bench.at == len(bench.steps) - 1
        if handles:
            self.plot.show_other(bench.other, bench.y)
        if handles or not moved:
            self.show_rest()
        if not moved:
            self._show_numbers()

    def _show_numbers(self) -> None:
        whole = None if self.late or self.result is None else self.result.station(self.bench.y)
        self.numbers.text = words.numbers(self.station, self.lengths, whole)
        self.plot.show_lines(whole or self.station, rear=whole is not None)
        self.say_state()

    def say_state(self) -> None:
        """Say how the shape stands."""
        step = self.bench.step
        moved = sum(step.proposed(self.bench.y))
        self.say(words.state(late=self.late, moved=moved, left=step.left, refused=self.refused))

    def _have_rest_follow(self) -> None:
        rested = partial(self._rested, self.turn)
        self.doc.add_timeout_callback(partial(self.kept_up, rested), _REST_MS)

    def _rested(self, turn: int) -> None:
        """Work the whole shape out, unless it has moved on, or that is under way or done."""
        if turn != self.turn or self.working or not self.late:
            return
        self.working = turn
        front, other = self.bench.front, self.bench.other

        def work() -> tuple[Screening, Comparison | None]:
            result = screened(front)
            if other is None:
                return result, None
            if self.of_other is None or self.of_other[0] is not other:  # B stands while A moves
                self.of_other = (other, screened(other))
            return result, compare(result, self.of_other[1])

        self.behind(work, lambda found: self._caught_up(turn, found))

    def _caught_up(self, turn: int, found: tuple[Screening, Comparison | None] | None) -> None:
        self.working = 0
        if turn != self.turn:  # it has moved on, perhaps in a drag that still goes on
            self._have_rest_follow()
        elif found is not None:
            self.result, self.comparison = found
            self.late = False
            self._with_people()
            self.show_rest()
            self._show_numbers()

    def show_rest(self) -> None:
        """Show what is of the whole front, or that it is still of the shape before."""
        self.answer.text = words.answer(self.result, late=self.late)
        self.plot.show_areas(None if self.late else self.result, self.bench.y)
        self.panels[self.tab].fill()


def _text(name: str) -> str:
    return files("frontcheck.bench").joinpath(name).read_text("utf-8")
