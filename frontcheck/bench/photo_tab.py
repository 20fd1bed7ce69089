"""The photo tab: clicks on a side photo become a section, with how sure it is."""

from __future__ import annotations

from functools import partial
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, Final

from bokeh.layouts import row
from bokeh.models import (
    ColumnDataSource,
    InlineStyleSheet,
    PanTool,
    PointDrawTool,
    Range1d,
    ResetTool,
    WheelZoomTool,
)  # fmt: skip
from bokeh.models.widgets import FileInput, RadioButtonGroup, Select, Spinner
from bokeh.plotting import figure

from frontcheck.bench import page_words as words
from frontcheck.bench.opened import Picture, picture_in
from frontcheck.bench.panels import WIDE, Panel
from frontcheck.bench.side_plot import HIGH, OTHER, PROPOSED
from frontcheck.bench.side_plot import WIDE as ACROSS
from frontcheck.errors import FrontcheckError
from frontcheck.outputs.figures import canvas as look
from frontcheck.reading.photo import board_grid, front_from_photo
from frontcheck.reading.photo_clicks import PhotoClicks

if TYPE_CHECKING:
    from collections.abc import Mapping

KINDS: Final = {"ground": 2, "corners": 4, "outline": 0}
"""What is clicked, and how many of each; none stands for as many as one likes."""
_LABELS: Final = ("Ground (2)", "Board (4)", "Outline")
_PARTS: Final = ("", "underside", "bumper", "grille", "lamp", "bonnet", "cowl", "windscreen")
_COLUMNS: Final = {"ground": ("x", "y"), "corners": ("x", "y"), "outline": ("x", "y", "part")}
_STYLE: Final = {
    "ground": ("triangle", look.INK),
    "corners": ("square", OTHER),
    "outline": ("circle", PROPOSED),
}
_LENGTHS: Final = {
    "width": ("board, width", 1000.0),
    "height": ("board, height", 1000.0),
    "distance_mm": ("camera to centre plane", 5000.0),
    "behind_mm": ("camera behind the nose", 0.0),
    "above_mm": ("camera above bonnet", 0.0),
    "off_plane_mm": ("board off plane, about", 20.0),
    "plan_radius_mm": ("radius of front in plan", 2500.0),
    "crown_radius_mm": ("radius of bonnet across", 6500.0),
}


class Photo:
    """A photo and what was clicked on it; it stays while the page is built anew around it."""

    def __init__(self) -> None:
        self.name, self.there, self.what, self.part = "", False, "ground", ""
        self.mm = {key: start for key, (_, start) in _LENGTHS.items()}
        self.screen_px = 1.0
        self.zoomed: dict[tuple[float, float], float] = {}  # Pixels of the photo to one on screen
        self.sources = {
            kind: ColumnDataSource(dict.fromkeys(columns, ())) for kind, columns in _COLUMNS.items()
        }
        self.picture = ColumnDataSource({"url": (), "w": (), "h": ()})
        self.grid = ColumnDataSource({"xs": (), "ys": ()})
        self.across, self.down = Range1d(start=0, end=ACROSS), Range1d(start=HIGH, end=0)
        self.figure = figure(
            frame_width=ACROSS, frame_height=HIGH, x_range=self.across, y_range=self.down, tools="",
            toolbar_location="right", name="photo", visible=False,
            background_fill_color=look.PAPER, border_fill_color=look.PAPER, min_border=4,
        )  # fmt: skip
        self.sheet = InlineStyleSheet()
        self.figure.stylesheets = [self.sheet]
        self.figure.axis.visible = self.figure.grid.visible = False
        self.figure.toolbar.logo = None
        self.figure.image_url("url", 0, 0, "w", "h", source=self.picture, anchor="top_left")
        self.figure.multi_line("xs", "ys", source=self.grid, line_color=OTHER, line_alpha=0.6)
        self.figure.line(
            "x", "y", source=self.sources["outline"], line_color=PROPOSED, line_width=2
        )
        self.marks = {
            kind: self.figure.scatter(
                "x", "y", source=source, marker=_STYLE[kind][0], size=11, fill_alpha=0.3,
                fill_color=_STYLE[kind][1], line_color=_STYLE[kind][1], line_width=2,
            )
            for kind, source in self.sources.items()
        }  # fmt: skip
        self.tool = PointDrawTool(renderers=[], description="Click or drag")
        wheel = WheelZoomTool()
        self.figure.add_tools(self.tool, PanTool(), wheel, ResetTool())
        self.figure.toolbar.active_drag = self.figure.toolbar.active_tap = self.tool
        self.figure.toolbar.active_scroll = wheel
        self.choose("ground")

    def choose(self, what: str) -> None:
        """Have clicks be of one kind."""
        self.what = what
        self.tool.update(renderers=[self.marks[what]], num_objects=KINDS[what])

    def label(self, part: str) -> None:
        """Have clicks of the outline be on a part."""
        self.part = part
        self.tool.empty_value = part

    def show(self, name: str, found: Picture) -> None:
        """Show another photo, with nothing clicked on it."""
        self.name, self.there, self.zoomed = PurePath(name).stem, True, {}
        for kind, columns in _COLUMNS.items():
            self.sources[kind].data = {column: [] for column in columns}
        self.picture.data = {"url": [found.url], "w": [found.width], "h": [found.height]}
        per_px = max(found.width / ACROSS, found.height / HIGH)
        for axis, ends in (
            (self.across, (0.0, ACROSS * per_px)), (self.down, (HIGH * per_px, 0.0)),
        ):  # fmt: skip
            axis.start, axis.end = axis.reset_start, axis.reset_end = ends

    def noted(self, data: Mapping[str, Any]) -> None:
        """Keep how far the photo was magnified when each place was clicked."""
        now = abs(float(self.across.end) - float(self.across.start)) / ACROSS  # type: ignore[arg-type]
        for place in zip(data["x"], data["y"], strict=True):
            self.zoomed.setdefault(place, now)

    def take_back(self) -> None:
        """Take the last click of a kind back."""
        source = self.sources[self.what]
        source.data = {name: list(source.data[name])[:-1] for name in _COLUMNS[self.what]}

    def count(self, kind: str) -> int:
        """How many clicks of a kind there are."""
        return len(self.sources[kind].data["x"])

    def clicks(self) -> PhotoClicks:
        """What was clicked, each click as sure as the photo was magnified then."""
        ground, corners, outline = map(self._places, KINDS)
        mm = dict(self.mm)
        size = mm.pop("width"), mm.pop("height")
        places = (*ground, *corners, *outline)
        least = max((self.zoomed.get(place, 1.0) for place in places), default=1.0)
        parts = tuple(str(part or "") for part in self.sources["outline"].data["part"])
        return PhotoClicks(
            ground, corners, size, outline, parts if any(parts) else None, None,
            self.screen_px * least, **mm,
        )  # fmt: skip

    def _places(self, kind: str) -> tuple[tuple[float, float], ...]:
        data = self.sources[kind].data
        return tuple(zip(data["x"], data["y"], strict=True))


class PhotoPanel(Panel):
    """What is clicked next, how the photo was taken, and what comes of it."""

    title = "Photo"

    def build(self) -> list[Any]:
        """Return the boxes; the photo itself stands where the drawing does."""
        page, photo = self.page, self.page.photo
        self.box = self.made(FileInput, accept=".jpg,.jpeg,.png,.webp", title="Load a side photo",
                             name="load-photo", width=WIDE - 20)  # fmt: skip
        page.on(self.box, "value", lambda _: page.soon(self._chosen))
        what = self.made(RadioButtonGroup, labels=list(_LABELS), name="photo-what", width=250,
                         active=list(KINDS).index(photo.what))  # fmt: skip
        page.on(what, "active", lambda i: photo.choose(list(KINDS)[i]))
        part = self.made(Select, title="part clicked next", name="photo-part", width=120,
                         options=list(_PARTS), value=photo.part)  # fmt: skip
        page.on(part, "value", photo.label)
        boxes = [self._length(key, label) for key, (label, _) in _LENGTHS.items()]
        px = self.made(Spinner, title="a click is sure to [screen px]", low=0.1, step=0.5,
                       value=photo.screen_px, width=205, name="photo-px")  # fmt: skip
        page.on(px, "value", self._px)
        self.said = self.told("", name="photo-said")
        self.takes = [
            self.button(f"Show as {letter}", partial(self._read, letter), name=f"photo-{letter}")
            for letter in "AB"
        ]
        back = self.button("Take back", photo.take_back, name="photo-back")
        pairs = [row(*pair) for pair in zip(boxes[::2], boxes[1::2], strict=True)]
        return [
            self.told(words.PHOTO), self.box, row(what, back), self.said, row(part, *self.takes),
            *pairs, px, self.told(words.PHOTO_LIMITS),
        ]  # fmt: skip

    def _length(self, key: str, label: str) -> Any:
        photo, lengths = self.page.photo, self.page.lengths
        box = self.made(
            Spinner, title=f"{label} [{lengths.unit}]", name=f"photo-{key}", width=205,
            step=10 * lengths.step, value=round(photo.mm[key] * lengths.scale, 3),
        )  # fmt: skip
        self.page.on(box, "value", partial(self._measured, key))
        return box

    def _measured(self, key: str, value: float | None) -> None:
        if value is not None:
            self.page.photo.mm[key] = value / self.page.lengths.scale
            self.fill()

    def _px(self, value: float | None) -> None:
        if value is not None:
            self.page.photo.screen_px = value
            self.fill()

    def _chosen(self) -> None:
        page, name, content = self.page, str(self.box.filename), str(self.box.value)
        if not content:
            return
        self.box.clear()
        page.say(words.READING)
        page.behind(partial(picture_in, name, content), lambda found: self._shown(name, found))

    def _shown(self, name: str, found: Picture | None) -> None:
        if found is not None:
            self.page.photo.show(name, found)
            self.page.say_state()
        self.fill()

    def _read(self, as_: str) -> None:
        photo = self.page.photo
        front = front_from_photo(photo.clicks(), photo.name or "front")
        self.page.tab = 0
        self.page.loaded(front, as_)

    def fill(self) -> None:
        """Say what is still to be clicked; once all is there, how sure it is and what to mind."""
        photo = self.page.photo
        missing = {
            kind: max(least, 3 * (not least)) - photo.count(kind) for kind, least in KINDS.items()
        }
        grid: list[Any] = []
        if any(left > 0 for left in missing.values()):
            text = words.photo_missing(missing, there=photo.there)
        else:
            try:
                clicks = photo.clicks()
                grid = [line.tolist() for line in board_grid(clicks)]
                text = words.photo_read(front_from_photo(clicks))
            except FrontcheckError as error:
                text = words.photo_refused(str(error))
        self.said.text = text
        photo.grid.data = {
            "xs": [[x for x, _ in line] for line in grid],
            "ys": [[y for _, y in line] for line in grid],
        }
        for button in self.takes:
            button.disabled = any(left > 0 for left in missing.values())
