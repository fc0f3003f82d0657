"""`python -m tests.targets` prints every target beside what three cards and sixty drawn engines give."""

from __future__ import annotations

from .targets import CARDS, among_most, targets


def number(value: float, digits: int = 3) -> str:
    """A figure with as many significant digits as a reader wants."""
    return f"{float(f'{value:.{digits}g}'):g}".replace("-", "−")


def row(target) -> str:
    """One row of the table; an asterisk behind what is missed."""
    on_cards = (
        (number(target.found(card), 4) + "*" if card in target.missed else number(target.found(card)))
        if card in target.cards
        else "–"
        for card in CARDS
    )
    spread = ""
    if target.drawn or target.most_drawn:
        found = target.found_drawn()
        most = among_most(found)
        spread = f"{number(found[0])} to {number(found[-1])}, nine of ten {number(most[0])} to {number(most[-1])}"
    band = " to ".join(number(end) for end in target.band)
    return f"| {target.name} | {target.unit} | {band} | {' | '.join(on_cards)} | {spread} | {target.certainty} |"


if __name__ == "__main__":
    print("| target | unit | band | six | four | eight | sixty drawn engines | certainty |")
    print("|---|---|---|---|---|---|---|---|")
    for target in targets():
        print(row(target), flush=True)
