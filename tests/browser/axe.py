"""What axe finds on a page, in the forms that tests ask for."""

from __future__ import annotations

from axe_playwright_python.base import AXE_SCRIPT
from axe_playwright_python.sync_playwright import Axe

# Of letters in a drawing axe never says more than that it cannot judge their colour, and to come to that takes it most
# of its time: they are left to the tests of the drawings. test_axe.py says when axe has learnt it.
COLOURS_OF_TEXT = "axe.configure({rules: [{id: 'color-contrast', selector: '*:not(svg *)'}]});"
AXE = Axe(f"{AXE_SCRIPT}\n{COLOURS_OF_TEXT}")


def violations(page, *within: str, rules: tuple[str, ...] = ()) -> list[str]:
    """A line for each part that breaks a rule, on the whole page or within what these selectors find; all rules, or
    those that are named."""
    found = AXE.run(
        page,
        context={"include": [[one] for one in within]} if within else None,
        options={"resultTypes": ["violations"], **({"runOnly": list(rules)} if rules else {})},
    ).response["violations"]
    return [f"{one['id']}: {one['help']} at {node['target']}" for one in found for node in one["nodes"]]
