"""Hands at a bench that show one phase of the work at a time: the phase of a control is taken in hand first."""

from __future__ import annotations

# The phase, not in hand yet, of the first part that a selector finds; empty where the part can be used as it is.
PHASE_OF = """selector => {
    const group = document.querySelector(selector)?.closest('.eb-group');
    return group?.hidden ? group.dataset.group : ''; }"""


def use(bench, control: str, further: str = "") -> None:
    """Press a part of a control with the pointer, after the phase that it belongs to."""
    take(bench, control)
    bench.locator(f"[data-control={control}]{further}").first.click()


def choose(bench, control: str, value: str) -> None:
    """Press one choice of a control."""
    use(bench, control, f"[data-value='{value}']")


def take(bench, control: str) -> None:
    """Take the phase of a control in hand, with the pointer, where it is not."""
    part = bench.locator(f"[data-control={control}]").first
    phase = part.evaluate("part => part.closest('.eb-group[hidden]')?.dataset.group ?? ''")
    if phase:
        bench.locator(f"[data-phase='{phase}']").first.click()
