"""Recordings of the method to watch: what is played, and play, pause, step and again."""

from __future__ import annotations

import ipywidgets
import traitlets

from course import ENGINES
from course.widgets.shared.front_end import module_text
from graders.model_answers.demonstrations import DEMONSTRATIONS

from .class_bench import CardAboveBench
from .replay_bench import ReplayBench


class Player(CardAboveBench):
    """The buttons of a recording; its bench stands below them, in `box`.

    The browser sends `{"press": "play" | "pause" | "step" | "again"}`, `{"choose": name}` and `{"heartbeat": number}`.
    """

    _esm = module_text("showing/player.js")

    recordings = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)  # id and title
    chosen = traitlets.Unicode("").tag(sync=True)
    caption = traitlets.Unicode("").tag(sync=True)
    playing = traitlets.Bool(False).tag(sync=True)
    at = traitlets.Int(0).tag(sync=True)  # acts played
    acts = traitlets.Int(0).tag(sync=True)  # of the recording, once it is known
    bench: ReplayBench | None
    problem = ""  # nothing that a recording needs can be missing

    def __init__(self, chosen: str = ""):
        super().__init__(recordings=[list(pair) for pair in DEMONSTRATIONS.items()])
        self.choose(chosen or next(iter(DEMONSTRATIONS)))

    def choose(self, name: str) -> None:
        """Take the recording of that name, from its beginning; its bench appears when it is first played."""
        if name not in DEMONSTRATIONS:
            return
        self.put(None)
        self.chosen, self.acts, self.at, self.caption, self.playing = name, 0, 0, "", False

    def press(self, button: str) -> None:
        """Play, pause, go on by one act, or begin again."""
        if button == "again" or (button == "play" and self.bench is not None and self.bench.ended):
            self.choose(self.chosen)
        bench = self._at_the_bench()
        if button in ("play", "pause"):
            bench.playing = button == "play"
            bench.clock.wake()
        elif button == "step":
            bench.playing = False
            bench.next_act()
        self.acts = len(bench.recording.acts)
        self._moved()

    def _at_the_bench(self) -> ReplayBench:
        if self.bench is not None:
            return self.bench
        bench = ReplayBench(self.chosen, ENGINES, self._moved)
        self.put(bench)
        return bench

    def _moved(self) -> None:
        bench = self.bench
        if bench is not None:
            self.playing, self.at, self.caption = bench.playing, bench.at, bench.caption

    def told(self, content: dict) -> None:
        """Take another recording, or do what a button says."""
        if isinstance(content.get("choose"), str):
            self.choose(content["choose"])
        if isinstance(content.get("press"), str):
            self.press(content["press"])


def replays(chosen: str = "") -> ipywidgets.VBox:
    """The method going right, and going wrong in two ways, to watch at a bench."""
    return Player(chosen).box
