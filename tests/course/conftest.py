"""A stand-in for the engine's session, so that bench and forms are tested without physics and without a
browser."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from engine_sim import CONTROLS, ControlError, Trajectory
from engine_sim.workshop.controls import control_named
from tests.short_ways import disk_not_waited_for, schema_asked_once  # noqa: F401 - fixtures of this room


class SessionDouble:
    """Keeps what it was told; `stop_unsafe` and `fail` make it answer as an engine can."""

    def __init__(self):
        self.time_s = 0.0
        self.told: list[tuple[str, object]] = []
        self.steps: list[float] = []
        self.running = self.asleep = False
        self.sentence = ""
        self.trajectories = [Trajectory()]
        self.log: list[SimpleNamespace] = []
        self.settings = {
            control.name: control.choices[0] if control.kind == "choice" else 0.0
            for control in CONTROLS.values()
            if control.kind != "press"
        } | {"touches": {}}
        self.stop_unsafe: set[str] = set()
        self.fail: Exception | None = None
        self.tools = frozenset()
        self.crept_deg = 0.0
        self.coolant_c = 20.0

    def choices(self, control):
        """What a choice can be set to."""
        return control_named(control).choices

    def act(self, control, value=None, unit=None):
        """Do as the real session does: check, keep, answer."""
        if self.fail:
            raise self.fail
        value = control_named(control).checked(value, unit)
        if control in self.stop_unsafe:
            return self._answer("stopped", f"{control} would be unsafe.")
        self.told.append((control, value))
        if control == "begin":
            self.trajectories.append(Trajectory())
        self.running = control == "starter" or (self.running and control != "stop")
        if value is not None:
            self.settings[control] = value
        self.log.append(SimpleNamespace(time_s=self.time_s, text=f"{control} {value}"))
        return self._answer("done", f"{control} done.")

    def _answer(self, kind, sentence):
        self.sentence = sentence
        return SimpleNamespace(kind=kind, sentence=sentence)

    def advance(self, seconds):
        """Let time pass."""
        if self.fail:
            raise self.fail
        self.steps.append(seconds)
        self.time_s += seconds

    def readings(self):
        """What the gauges show: a speed that follows the time, and no hose on the gauge."""
        return SimpleNamespace(
            time_s=self.time_s,
            running=self.running,
            cranking=False,
            warm=False,
            on_road=False,
            speed_rpm=600.0 + self.time_s if self.running else 0.0,
            vacuum_inhg=None,
            coolant_c=self.coolant_c,
            idle_words="even",
            ping_words="",
            ping_level=0.0,
            sentence=self.sentence,
            firing_hz=30.0 if self.running else 0.0,
            beats=(1.0, 0.5, 1.1) if self.running else (),
            pings=(0.4,) if self.running else (),
            timing_light_deg=None,
            dwell_deg=None,
            lamp_lit=None,
            torque_nm=None,
        )


@pytest.fixture
def session():
    """A fresh stand-in for a session."""
    return SessionDouble()


@pytest.fixture
def refused():
    """An error that the engine may answer with."""
    return ControlError("Nothing of that kind is on this engine.")
