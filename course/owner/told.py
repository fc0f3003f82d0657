"""What is worked out of a description, as plain text for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from engine_sim.owned.compare import Suspect
from engine_sim.owned.description import OwnedEngine

from .cautions import FIRST
from .sheet import NEVER_A_SETTING
from .work import Worked, share_in_words, shown_bands


def told(engine: OwnedEngine, worked: Worked | None) -> str:
    """The whole text; `worked` is None where something is lacking."""
    lines = [engine.identity.title or "An engine without a name", "", FIRST, NEVER_A_SETTING]
    if worked is None:
        lines += _part("Nothing can be worked out yet", engine.lacking.values())
        return "\n".join(lines)
    picture = {one.title: one.words for one in shown_bands(engine, worked)}
    lines += _part(
        "What to expect", (f"{picture.get(one.title, one.title)}. {one.text}" for one in worked.expected.bands)
    )
    lines += _part(
        "Not shown, because it would tell nothing", (f"{one.title}: {one.why}" for one in worked.expected.not_shown)
    )
    lines += _part("What would narrow it most", (worked.expected.ask_next,))
    lines += _part(
        "What was supposed for the rest", (f"{one.text} Matters: {one.matters}." for one in worked.expected.assumed)
    )
    lines += _part("A figure to start it with", (*worked.start.reasons, *worked.start.to_go_on))
    lines += _part("When to stop", worked.start.stop_when)
    lines += _part("Does this distributor suit this engine?", _suits(worked))
    lines += _part("What the readings say together", (worked.comparison.verdict, *worked.comparison.sentences))
    lines += _part("Ranked", (line for one in worked.comparison.ranked for line in _suspect(one)))
    lines += _part("What cannot be told apart", (one.sentence for one in worked.comparison.pairs))
    lines += _part(
        "Which test next",
        (f"{one.title}, about {one.minutes:g} minutes. {one.reason}" for one in worked.comparison.next_tests),
    )
    lines += _part("What not to do", worked.comparison.do_not)
    return "\n".join(lines)


def _suits(worked: Worked) -> Iterator[str]:
    for row in worked.suits.rows:
        read = "not read" if row.read_deg is None else f"{row.read_deg:g} degrees read"
        usable = "" if row.low_deg is None else f"; {row.low_deg:.0f} to {row.high_deg:.0f} can be used"
        yield f"{row.speed}{'' if row.speed == 'idle' else ' rpm'}, hose {row.hose}: {read}{usable}."
    yield from (*worked.suits.sentences, *worked.suits.ground)
    yield from (f"To ask a specialist for: {sentence}" for sentence in worked.suits.ask_for)


def _suspect(one: Suspect) -> Iterator[str]:
    yield f"{share_in_words(one.odds):>5}  {one.title}"
    yield from (f"       fits: {sentence}" for sentence in one.fits)
    yield from (f"       does not fit: {sentence}" for sentence in one.does_not_fit)


def _part(title: str, lines: Iterable[str]) -> list[str]:
    found = [f"  {line}" for line in lines if line]
    return ["", title, *found] if found else []
