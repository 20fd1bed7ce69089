"""The page: drawing, numbers, answer and what moves them, put together for one tab."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import partial
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from bokeh.events import Pan, PanEnd, PanStart
from bokeh.layouts import column, row
from bokeh.models import (
    Button, Div, GlobalInlineStyleSheet, InlineStyleSheet, RadioButtonGroup, Select, Slider,
    Spinner, TabPanel, Tabs,
)  # fmt: skip

from frontcheck.bench import page_words as words
from frontcheck.bench.model import FEATURES, Bench, compared, quick_lines, screened
from frontcheck.bench.side_plot import SidePlot
from frontcheck.caution import CAUTION
from frontcheck.errors import FrontcheckError
from frontcheck.study.moves import HANDLES

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from concurrent.futures import Future

    from bokeh.document import Document
    from bokeh.model import Model

    from frontcheck.bench.model import Step
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.front.front import Front
    from frontcheck.screening import Screening

_POOL: Final = ThreadPoolExecutor(2, thread_name_prefix="bench")
"""Works out what would hold a drag up."""
_REST_MS: Final = 120
"""How long a shape must rest before all of it is worked out: own choice, between two moves."""
_SIDE_PX: Final = 440
_DARK: Final = "html { filter: invert(.93) hue-rotate(180deg); background: #ffffff; }"
"""The light page with its lightness turned over: hues, marks and contrast stay."""
SHADES: Final = {
    "as the system": f"@media (prefers-color-scheme: dark) {{ {_DARK} }}",
    "light": "",
    "dark": _DARK,
}


def page(doc: Document, shapes: Sequence[Front]) -> None:
    """Fill the document of one tab with shapes A and B."""
    Page(doc, Bench(*shapes[:2])).show()


class Page:
    """One tab."""

    def __init__(self, doc: Document, bench: Bench) -> None:
        self.doc, self.bench = doc, bench
        self.unit, self.shade = "mm", "as the system"
        self.result: Screening | None = None
        self.comparison: Comparison | None = None
        self.late, self.refused = True, ""
        self.turn = self.working = 0
        self.waiting = False
        self.held: dict[int, tuple[float, float]] = {}
        self.hold = ""
        self.quiet = False
        doc.title = "frontcheck: try shapes"

    # Building.

    def show(self) -> None:
        """Build the page anew, in the unit and shade that were chosen."""
        self.lengths = words.Lengths(self.unit)
        self.plot = SidePlot(self.lengths.scale, self.unit)
        self.sheet = InlineStyleSheet(css=_text("page.css"))
        self.head_sheet = GlobalInlineStyleSheet(css=_text("page_head.css") + SHADES[self.shade])
        self.state, self.numbers = self._div("state"), self._div("numbers")
        self.answer, self.differences = self._div("answer"), self._div("differences")
        figure = self.plot.figure
        figure.on_event(PanStart, self._taken)
        figure.on_event(Pan, self._dragged)
        figure.on_event(PanEnd, self._let_go)
        left = column(self._head(), self.state, figure, self.numbers, self.answer)
        tabs = Tabs(
            tabs=[
                TabPanel(child=self._moving(), title="Move"),
                TabPanel(child=self._point(), title="One point"),
                TabPanel(child=self._both(), title="A and B"),
            ],
            width=_SIDE_PX, stylesheets=[self.sheet],
        )  # fmt: skip
        sticky = self._div("caution", css_classes=["fc-sticky"], margin=0)
        sticky.text = f"<p><b>{words.NOT_ADVICE}</b> {CAUTION}</p>"
        sticky.stylesheets = [self.sheet, self.head_sheet]
        self.doc.clear()
        self.doc.add_root(row(left, tabs, spacing=10))
        self.doc.add_root(sticky)
        sections = self.bench.front.sections
        self.plot.frame(sections if self.bench.other is None else
                        (*sections, *self.bench.other.sections))  # fmt: skip
        self.changed()

    def _div(self, name: str, **more: Any) -> Div:
        return Div(name=name, text="", stylesheets=[self.sheet], **more)

    def _button(self, label: str, work: Callable[[], None], **more: Any) -> Button:
        button = Button(label=label, stylesheets=[self.sheet], **more)
        button.on_click(lambda: self._tried(work))
        return button

    def _head(self) -> Any:
        front = self.bench.front
        title = self._div("title", css_classes=["title"], width=300)
        title.text = f"<h1>Try shapes</h1><p>A: {escape(front.name)}</p>"
        station = Select(
            title="Side section at", value=f"{self.bench.y:g}", width=110, name="station",
            options=[(f"{y:g}", f"{self.lengths.said(y)} {self.unit}") for y in front.stations],
            stylesheets=[self.sheet],
        )  # fmt: skip
        _on(station, "value", lambda new: self._go_to(float(new)))
        unit = Select(title="Unit", value=self.unit, options=["mm", "in"], width=60, name="unit",
                      stylesheets=[self.sheet])  # fmt: skip
        _on(unit, "value", self._anew)
        shade = Select(title="Colours", value=self.shade, options=list(SHADES), width=110,
                       name="shade", stylesheets=[self.sheet])  # fmt: skip
        _on(shade, "value", self._shaded)
        self.undo = self._button("Undo", lambda: self._gone(-1), width=70, name="undo")
        self.redo = self._button("Redo", lambda: self._gone(1), width=70, name="redo")
        buttons = row(self.undo, self.redo, margin=(16, 0, 0, 0))
        return row(title, station, unit, shade, buttons)

    def _moving(self) -> Any:
        """A slider and a typed value for every dimension."""
        self.sliders: dict[str, tuple[Slider, Spinner]] = {}
        note = self._div("note", width=_SIDE_PX)
        note.text = (
            "<p>Features move at all stations alike. Drag the squares in the drawing, slide, or "
            "type.</p>"
        )
        rows: list[Any] = [note]
        for handle in HANDLES:
            k = self.lengths.scale if handle.unit == "mm" else 1.0
            unit = self.unit if handle.unit == "mm" else handle.unit
            most = 120.0 * k if handle.unit == "mm" else 20.0
            step = (1.0 if unit != "in" else 0.05)
            title = f"{handle.name.rpartition('_')[0].replace('_', ' ')} [{unit}]"
            slider = Slider(start=-most, end=most, step=step, value=0.0, title=title, width=320,
                            show_value=False, name=f"slide-{handle.name}",
                            stylesheets=[self.sheet])  # fmt: skip
            typed = Spinner(step=step, value=0.0, width=90, name=f"type-{handle.name}",
                            stylesheets=[self.sheet])  # fmt: skip
            self.sliders[handle.name] = (slider, typed)
            _on(slider, "value", partial(self._slid, handle.name, k))
            _on(slider, "value_throttled", lambda _: self._settle())
            _on(typed, "value", partial(self._typed, handle.name, k))
            rows.append(row(slider, typed))
        return column(*rows, width=_SIDE_PX)

    def _point(self) -> Any:
        """One point by its number, for keys and typed values."""
        note = self._div("note", width=_SIDE_PX)
        note.text = (
            "<p>A point moves at this station alone. Drag it in the drawing, or choose it by its "
            "number, counted from the underside, and type where it is to stand.</p>"
        )
        k = self.lengths.scale
        step = 1.0 if self.unit == "mm" else 0.05
        self.which = Spinner(title="Point", low=1, high=len(self.bench.section), step=1, value=1,
                             width=110, name="which", stylesheets=[self.sheet])  # fmt: skip
        self.back = Spinner(title=f"setback [{self.unit}]", step=step, width=120, name="back",
                            stylesheets=[self.sheet])  # fmt: skip
        self.up = Spinner(title=f"height [{self.unit}]", step=step, width=120, name="up",
                          stylesheets=[self.sheet])  # fmt: skip
        _on(self.which, "value", lambda _: self._filled())
        for box in (self.back, self.up):
            _on(box, "value", lambda _: self._placed(k))
        return column(note, row(self.which, self.back, self.up), width=_SIDE_PX)

    def _both(self) -> Any:
        keep = self._button("Keep the present shape as B", self._kept, name="keep")
        swap = self._button("Let B go", self._forgot, name="forget")
        self.differences.width = _SIDE_PX
        return column(row(keep, swap), self.differences, width=_SIDE_PX)

    # What a person does.

    def _tried(self, work: Callable[[], None]) -> None:
        """Do what was asked for; what is refused is said, and the shape stays."""
        self.refused = ""
        try:
            work()
        except FrontcheckError as error:
            self.bench.draft = None
            self.refused = str(error)
            self.changed()

    def _anew(self, unit: str) -> None:
        self.unit = unit
        self.show()

    def _shaded(self, shade: str) -> None:
        self.shade = shade
        self.head_sheet.css = _text("page_head.css") + SHADES[shade]

    def _go_to(self, y: float) -> None:
        self.bench.y = y
        self.changed(moved=False)

    def _gone(self, by: int) -> None:
        if self.bench.go(by):
            self.changed()

    def _kept(self) -> None:
        self.bench.keep_as_b()
        self.changed()

    def _forgot(self) -> None:
        self.bench.other = None
        self.changed()

    def _slid(self, handle: str, k: float, value: float) -> None:
        if not self.quiet:
            start = self.bench.steps[self.bench.at]
            self._tried(lambda: self._draft(start.with_move(handle, value / k)))

    def _typed(self, handle: str, k: float, value: float | None) -> None:
        if not self.quiet and value is not None:
            start = self.bench.steps[self.bench.at]
            self._tried(lambda: self._take(start.with_move(handle, value / k)))

    def _placed(self, k: float) -> None:
        if self.quiet or None in (self.which.value, self.back.value, self.up.value):
            return
        to = (self.back.value / k, self.up.value / k)
        start, i = self.bench.steps[self.bench.at], int(self.which.value) - 1
        self._tried(lambda: self._take(start.with_points(self.bench.y, {i: to})))

    def _draft(self, step: Step, *, handles: bool = True) -> None:
        self.bench.draft = step
        self.changed(handles=handles)

    def _take(self, step: Step) -> None:
        self.bench.take(step)
        self.changed()

    def _settle(self) -> None:
        if not self.quiet and self.bench.draft is not None:
            self._take(self.bench.draft)

    # A drag: the browser moves the point by itself, and tells at the end where it is. On the way
    # there the place of the pointer says as much, so that lines follow.

    def _taken(self, event: PanStart) -> None:
        self.began = (event.x, event.y)
        self.hold = ""

    def _dragged(self, event: Pan) -> None:
        if event.x is None or not self._holds():
            return
        k = self.lengths.scale
        by = ((event.x - self.began[0]) / k, (event.y - self.began[1]) / k)
        to = {i: (x + by[0], z + by[1]) for i, (x, z) in self.held.items()}
        self._tried(lambda: self._draft(self._step_to(to), handles=False))

    def _holds(self) -> bool:
        """Find out what the pointer took hold of, once a drag."""
        if not self.hold:
            section = self.bench.steps[self.bench.at].front.section(self.bench.y)
            for name in ("features", "points"):
                chosen = self.plot.sources[name].selected.indices
                if chosen:
                    at = list(self.bench.step.features(self.bench.y).values())
                    places = [at[i] for i in chosen] if name == "features" else chosen
                    self.held = {i: tuple(section.points[i].tolist()) for i in places}
                    self.hold = name
                    break
        return bool(self.hold)

    def _step_to(self, to: dict[int, tuple[float, float]]) -> Step:
        start, y = self.bench.steps[self.bench.at], self.bench.y
        if self.hold == "points":
            return start.with_points(y, to)
        names = {i: name for name, i in start.features(y).items()}
        for i, place in to.items():
            start = start.with_feature(y, names[i], place)
        return start

    def _let_go(self, event: PanEnd) -> None:
        """A drag ends: what it has reached is a step."""
        if self.hold:
            self._dragged(event)
            self._settle()
        self.hold = ""
        for name in ("points", "features"):
            self.plot.sources[name].selected.indices = []

    def _from_browser(self, _: str, __: Any, new: dict[str, Any]) -> None:
        """Points are neither added nor taken away in the browser: put back what is gone."""

    # What follows from it.

    def changed(self, *, handles: bool = True, moved: bool = True) -> None:
        """Show the shape and the lines of its section at once, and have the rest follow."""
        bench = self.bench
        if moved:
            self.late = True
            self.turn += 1
        self.plot.show_shape(bench.step, bench.y, handles=handles)
        self.plot.show_other(_section_of(bench.other, bench.y))
        self.station = quick_lines(bench.front, bench.y)
        self._show_numbers()
        if handles:
            self._filled()
        if moved:
            self.doc.add_timeout_callback(lambda turn=self.turn: self._rested(turn), _REST_MS)
        else:
            self._show_rest()

    def _show_numbers(self) -> None:
        whole = None if self.late or self.result is None else self.result.station(self.bench.y)
        self.numbers.text = words.numbers(self.station, self.lengths, whole)
        self.plot.show_lines(whole or self.station, rear=whole is not None)
        moved = sum(self.bench.step.proposed(self.bench.y))
        self.state.text = words.state(late=self.late, moved=moved, refused=self.refused)

    def _filled(self) -> None:
        """Let every box show the present shape."""
        self.quiet = True
        step, k = self.bench.step, self.lengths.scale
        for handle in HANDLES:
            value = step.moves.get(handle.name, 0.0) * (k if handle.unit == "mm" else 1.0)
            for box in self.sliders[handle.name]:
                box.value = round(value, 4)
        self.which.high = len(self.bench.section)
        i = min(int(self.which.value or 1), len(self.bench.section)) - 1
        x, z = self.bench.section.points[i].tolist()
        self.back.value, self.up.value = round(x * k, 4), round(z * k, 4)
        self.undo.disabled = self.bench.at == 0
        self.redo.disabled = self.bench.at == len(self.bench.steps) - 1
        self.quiet = False

    def _rested(self, turn: int) -> None:
        """Work the whole shape out, unless it has moved on or another is being worked out."""
        if turn != self.turn or self.working:
            return
        self.working = turn
        front, other = self.bench.front, self.bench.other

        def work() -> tuple[Screening, Comparison | None]:
            result = screened(front)
            return result, None if other is None else compared(result, other)

        def done(future: Future[tuple[Screening, Comparison | None]]) -> None:
            self.doc.add_next_tick_callback(lambda: self._caught_up(turn, future))

        _POOL.submit(work).add_done_callback(done)

    def _caught_up(
        self, turn: int, future: Future[tuple[Screening, Comparison | None]]
    ) -> None:
        self.working = 0
        if turn != self.turn:  # it has moved on: only the newest counts
            self._rested(self.turn)
            return
        try:
            self.result, self.comparison = future.result()
        except FrontcheckError as error:
            self.refused = str(error)
        else:
            self.late = False
        self._show_numbers()
        self._show_rest()

    def _show_rest(self) -> None:
        late = self.late
        self.answer.text = words.answer(self.result, late=late)
        self.plot.show_areas(None if late else self.result, self.bench.y)
        self.differences.text = words.differences(
            None if late else self.comparison, self.bench.y, self.lengths
        )


def _section_of(front: Front | None, y: float) -> Any:
    if front is None:
        return None
    there = front.full().sections
    return next((section for section in there if abs(section.y - y) < 1e-6), None)


def _text(name: str) -> str:
    return files("frontcheck.bench").joinpath(name).read_text("utf-8")


def _on(model: Model, name: str, work: Callable[[Any], None]) -> None:
    """Have work done with the new value of a property."""
    model.on_change(name, lambda _attr, _old, new: work(new))
