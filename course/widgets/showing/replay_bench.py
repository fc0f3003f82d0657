"""A bench on which a recording is played: the same gauges, drawing and record, and nothing that hands can move."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from graders.model_answers.demonstrations import Recording, recording_of, session_for
from graders.model_answers.model_learner import METHOD_CHECKS

from .class_bench import ClassBench

AT_ONCE_S = 4.0  # of engine time before an act that are played as they were; what is longer is played faster
FASTER = 10.0
PLAYED_AT = 1.5  # times as fast as it was done
HANDS_OFF = "This is a recording: play it with the buttons above it. The engine is not yours to move here."


class ReplayBench(ClassBench):
    """The bench of one demonstration. It is recorded when it is first played; `moved()` is called after each act."""

    def __init__(self, name: str, engines: Path, moved: Callable[[], None]):
        self.playing, self.at, self.caption = False, 0, ""
        self._name, self._engines, self._moved = name, engines, moved
        super().__init__(session_for(engines), "replay", "A recording", guide="steps", checks=METHOD_CHECKS)

    @property
    def recording(self) -> Recording:
        """What is played."""
        return recording_of(self._name, self._engines)

    @property
    def ended(self) -> bool:
        """Whether every act was played."""
        return self.at >= len(self.recording.acts)

    def at_rest(self) -> bool:
        """Whether it does not play: a recording goes on beside an engine that stands, too."""
        return not self.playing

    def step(self, elapsed_s: float) -> None:
        """Let the recording go on, faster where nothing is done for long; the engine waits while it does not play."""
        with self._lock:
            if not self.playing:
                return
            self._play(elapsed_s * PLAYED_AT)

    def next_act(self) -> None:
        """Go to the next act of the recording and do it."""
        with self._lock:
            if not self.ended:
                self._do_next()

    def leave(self) -> None:
        """Stop playing where nobody watches."""
        self.playing = False
        self._moved()

    def _play(self, seconds: float) -> None:
        ahead_s = 0.0 if self.ended else self.recording.acts[self.at].time_s - self.session.time_s
        if not self.ended and ahead_s > AT_ONCE_S:
            seconds = min(seconds * FASTER, ahead_s - AT_ONCE_S + seconds)
        if self.ended:
            self.playing = False
            self._moved()
        elif seconds >= ahead_s:
            self._do_next()
        else:
            self._let_run(seconds)

    def _do_next(self) -> None:
        act = self.recording.acts[self.at]
        wait_s = act.time_s - self.session.time_s
        if wait_s > 0.0:
            self.session.advance(wait_s)
        done = self.session.act(act.control, act.value)
        self._heard = done.sentence
        self.at += 1
        self.caption = act.caption or self.caption
        if self.ended:
            self.playing, self.caption = False, self.recording.ends
        self.say(done.kind, done.sentence, act.control)
        self._show()
        self._moved()

    def _act_on_message(self, content: dict) -> None:
        self.say("note", HANDS_OFF, content["control"])
