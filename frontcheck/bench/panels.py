"""The panels beside the drawing: what moves the shape, and what is said of it besides its lines."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, Final

from bokeh.layouts import column, row
from bokeh.models.widgets import Button, Checkbox, Div, FileInput, Select, Slider, Spinner

from frontcheck.bench import page_words as words
from frontcheck.bench import saves
from frontcheck.bench.opened import opened
from frontcheck.reading.readers import KNOWN_SUFFIXES
from frontcheck.study.moves import HANDLES
from frontcheck.study.sensitivity import sensitivity

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.body.motion import MotionStudy
    from frontcheck.front.front import Front

WIDE: Final = 440
_MOST_MM: Final = 120.0
_MOST_DEG: Final = 15.0
"""How far a slider goes either way: own choice; a typed value may go as far as the handle."""
_ASK: Final = "as filed"


class Panel:
    """What stands on one tab."""

    title = ""

    def __init__(self, page: Any) -> None:
        self.page = page  # a `frontcheck.bench.page.Page`, which makes the panels
        self.quiet = False
        self.root = column(*self.build(), width=WIDE)

    def build(self) -> list[Any]:
        """Return what stands on it, from above."""
        raise NotImplementedError

    def fill(self) -> None:
        """Show the present shape; asked for while the tab is seen, and when it is turned to."""

    def made(self, kind: Callable[..., Any], **how: Any) -> Any:
        """Return a widget in the style of the page."""
        return kind(stylesheets=[self.page.sheet], **how)

    def told(self, html: str, **how: Any) -> Any:
        """Return a text."""
        return self.made(Div, text=html, width=WIDE - 12, disable_math=True, **how)

    def button(self, label: str, work: Callable[[], None], **how: Any) -> Any:
        """Return a button; what is refused is said."""
        button = self.made(Button, label=label, **how)
        button.on_click(lambda: self.page.tried(work))
        return button


class MovePanel(Panel):
    """A slider and a typed value for every dimension."""

    title = "Move"

    def build(self) -> list[Any]:
        """Return the sliders."""
        self.boxes: dict[str, tuple[Slider, Spinner]] = {}
        lengths = self.page.lengths
        rows = [self.told("<p>Slide, type, or drag a square in the drawing. Features move at all "
                          "stations alike.</p>")]  # fmt: skip
        for handle in HANDLES:
            k, unit, most, step = lengths.scale, lengths.unit, _MOST_MM, lengths.step
            if handle.unit == "deg":
                k, unit, most, step = 1.0, "deg", _MOST_DEG, 0.5
            title = f"{handle.label} [{unit}]"
            slider = self.made(
                Slider, start=-most * k, end=most * k, step=step, value=0.0, width=310,
                show_value=False, title=title, name=f"slide-{handle.name}", margin=(0, 8, 0, 5),
            )  # fmt: skip
            typed = self.made(Spinner, step=step, value=0.0, width=90, format="0[.]0[0]",
                              name=f"type-{handle.name}", margin=(4, 0, 0, 0))  # fmt: skip
            self.boxes[handle.name] = (slider, typed)
            self.page.on(slider, "value", partial(self._slid, handle.name, k))
            self.page.on(slider, "value_throttled", lambda _: self.page.settle())
            self.page.on(typed, "value", partial(self._typed, handle.name, k))
            rows.append(row(slider, typed))
        return rows

    def _slid(self, handle: str, k: float, value: float) -> None:
        if not self.quiet:
            start = self.page.bench.last
            self.page.tried(lambda: self.page.draft(start.with_moves({handle: value / k})))

    def _typed(self, handle: str, k: float, value: float | None) -> None:
        if not self.quiet and value is not None:
            start = self.page.bench.last
            self.page.tried(lambda: self.page.take(start.with_moves({handle: value / k})))

    def fill(self) -> None:
        """Show how far everything has been moved."""
        self.quiet = True
        for handle in HANDLES:
            k = self.page.lengths.scale if handle.unit == "mm" else 1.0
            for box in self.boxes[handle.name]:
                box.value = round(self.page.bench.step.moves.get(handle.name, 0.0) * k, 4)
        self.quiet = False


class PointPanel(Panel):
    """One point by its number, for keys and typed values."""

    title = "Point"

    def build(self) -> list[Any]:
        """Return the boxes."""
        lengths = self.page.lengths
        self.which = self.made(Spinner, title="Point", low=1, step=1, value=1, width=100,
                               name="which")  # fmt: skip
        self.back, self.up = (
            self.made(Spinner, title=f"{name} [{lengths.unit}]", step=lengths.step, width=130,
                      name=name)
            for name in ("setback", "height")
        )  # fmt: skip
        self.page.on(self.which, "value", lambda _: self.fill())
        for axis, box in enumerate((self.back, self.up)):
            self.page.on(box, "value", partial(self._placed, axis))
        return [
            self.told("<p>A point moves at this station alone. Choose it by its number, counted "
                      "from the underside, and type where it is to stand; arrow keys go in small "
                      "steps. Or choose <b>Drag points</b> above the drawing.</p>"),
            row(self.which, self.back, self.up),
            self.button("Put this point back", self._put_back, name="put-back"),
        ]  # fmt: skip

    def _chosen(self) -> int:
        return min(max(int(self.which.value or 1), 1), len(self.page.bench.section)) - 1

    def _placed(self, axis: int, value: float | None) -> None:
        if self.quiet or value is None:
            return
        bench, i = self.page.bench, self._chosen()
        at = bench.section.points[i].tolist()  # the other coordinate stays, to its last digit
        at[axis] = value / self.page.lengths.scale
        to = {i: (at[0], at[1])}
        self.page.tried(lambda: self.page.take(bench.last.with_points(bench.y, to)))

    def _put_back(self) -> None:
        self.page.take(self.page.bench.last.without_point(self.page.bench.y, self._chosen()))

    def fill(self) -> None:
        """Show where the point stands."""
        self.quiet = True
        section, k = self.page.bench.section, self.page.lengths.scale
        self.which.high = len(section)
        x, z = section.points[self._chosen()].tolist()
        self.back.value, self.up.value = round(x * k, 4), round(z * k, 4)
        self.quiet = False


class PerTenPanel(Panel):
    """Which feature moves which line."""

    title = "Per 10 mm"

    def build(self) -> list[Any]:
        """Return the table."""
        self.list = self.told("", name="per-ten")
        return [self.list]

    def fill(self) -> None:
        """Show what lines do for a small move of each feature from the present shape."""
        page = self.page
        self.list.text = (
            words.LATE
            if page.late or page.result is None
            else words.per_ten(sensitivity(page.bench.front, station=page.bench.y), page.lengths)
        )


class BothPanel(Panel):
    """The second shape, and what differs."""

    title = "A and B"

    def build(self) -> list[Any]:
        """Return the buttons and the list."""
        self.list = self.told("", name="differences")
        return [
            row(
                self.button("Keep the present shape as B", self._kept, name="keep"),
                self.button("Let B go", self._let_go, name="let-go"),
            ),
            self.list,
        ]

    def _kept(self) -> None:
        self.page.bench.keep_as_b()
        self.page.changed()

    def _let_go(self) -> None:
        self.page.bench.other = None
        self.page.changed()

    def fill(self) -> None:
        """Show what differs, once it is known."""
        page = self.page
        if page.bench.other is None:
            self.list.text = words.NO_OTHER
        elif page.late or page.comparison is None:
            self.list.text = words.LATE
        else:
            self.list.text = words.differences(page.comparison, page.bench.y, page.lengths)


class PeoplePanel(Panel):
    """People who are struck: worked out when asked for, blank once the shape has been moved."""

    title = "People"

    def build(self) -> list[Any]:
        """Return the button and the table."""
        self.running = False
        self.ask = self.button("Work out what becomes of people", self._asked, name="motion")
        self.progress = self.told("", name="motion-progress")
        self.list = self.told("", name="people")
        return [self.told(words.MOTION), self.ask, self.progress, self.list]

    def _asked(self) -> None:
        page = self.page
        if self.running or page.late or page.result is None:
            self.progress.text = words.WAIT
            return
        self.running, front, result = True, page.bench.front, page.result
        self.ask.disabled = True
        told = [0.0]

        def step(_: str, share: float) -> None:
            if share - told[0] >= 0.02:
                told[0] = share
                page.soon(lambda: self._progressed(share))

        def work() -> MotionStudy:
            from frontcheck.body.motion import motion

            return motion(result, progress=step)

        self._progressed(0.0)
        page.behind(work, lambda study: self._done(front, study))

    def _progressed(self, share: float) -> None:
        self.progress.text = words.progress(share)

    def _done(self, front: Front, study: MotionStudy | None) -> None:
        self.running = self.ask.disabled = False
        self.progress.text = ""
        if study is not None:
            self.page.struck(front, study)

    def fill(self) -> None:
        """Show what becomes of people; nothing that is of another shape."""
        page = self.page
        self.list.text = words.people(page.study, current=page.current, lengths=page.lengths)


class FilesPanel(Panel):
    """Load a shape, save what there is."""

    title = "Files"

    def build(self) -> list[Any]:
        """Return the file boxes, what a drawing or mesh does not state, and the links."""
        accept = ",".join(KNOWN_SUFFIXES)
        boxes = []
        for letter in "AB":
            box = self.made(FileInput, multiple=True, accept=accept, title=f"Load as {letter}",
                            name=f"load-{letter}", width=WIDE - 20)  # fmt: skip
            # Names and contents come one after the other: look once both are there.
            self.page.on(box, "value", partial(self._told, box, letter))
            boxes.append(box)
        axes = [_ASK, "-x", "+x", "-y", "+y", "-z", "+z"]
        self.told_of = {
            "unit": self.made(Select, title="unit", options=[_ASK, "mm", "cm", "m", "in"],
                              value=_ASK, width=95, name="file-unit"),
            "forward": self.made(Select, title="faces", options=axes, value=_ASK, width=95),
            "up": self.made(Select, title="up is", options=axes, value=_ASK, width=95),
            "ground": self.made(Spinner, title="ground at", width=95),
        }  # fmt: skip
        self.half = self.made(Checkbox, label="one half stands for both sides")
        self.links = self.told("", name="saves")
        self.made_of: tuple[object, dict[str, bytes]] = (None, {})
        kinds = {"Make the files": saves.FEW, "Make the annex": saves.ANNEX}
        asks = [
            self.button(label, partial(self._asked, names), name=label.lower().replace(" ", "-"))
            for label, names in kinds.items()
        ]
        return [
            self.told(words.LOADING), *boxes,
            self.told("<p>Only for drawings and meshes, where the file does not say it:</p>"),
            row(*self.told_of.values()), self.half, self.told("<h2>Save</h2>"), row(*asks),
            self.links,
        ]  # fmt: skip

    def _told(self, box: FileInput, as_: str, _: object) -> None:
        self.page.soon(partial(self._chosen, box, as_))

    def _chosen(self, box: FileInput, as_: str) -> None:
        if not box.value:
            return
        names, contents = list(box.filename), list(box.value)
        box.clear()  # else the same file, chosen again with what it does not state, is no news
        given = {name: each.value for name, each in self.told_of.items() if each.value != _ASK}
        if self.half.active:
            given["symmetric"] = True
        page = self.page
        page.say(words.READING)
        page.behind(lambda: opened(names, contents, **given), lambda front: page.loaded(front, as_))

    def _asked(self, names: tuple[str, ...]) -> None:
        page, of = self.page, self._of()
        offers = page.offers()
        self.links.text = words.LATE if offers else words.WAIT
        if not offers:
            return

        def made(files: dict[str, bytes] | None) -> None:
            kept = self.made_of[1] if self.made_of[0] == of else {}
            self.made_of = (of, kept | (files or {}))
            self.fill()

        page.behind(lambda: {name: offers[name]() for name in names if name in offers}, made)

    def fill(self) -> None:
        """Offer what was made of the present shape and section, and of no other."""
        of, made = self.made_of
        current = of == self._of() and made
        self.links.text = words.saves(made) if current else words.NOT_MADE

    def _of(self) -> tuple[int, float]:
        return self.page.turn, self.page.bench.y


PANELS: Final = (MovePanel, PointPanel, PerTenPanel, BothPanel, PeoplePanel, FilesPanel)
