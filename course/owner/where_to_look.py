"""Small drawings of where to look: one picture of the place for each group of facts, and a ring on the spot.

The drawing is for the eye alone; the words beside each field say the same. Shapes are drawn with the roles of the
plain page's small pictures (`l` line, `f` fill, then the first letter of the colour's role).
"""

from __future__ import annotations

from dataclasses import dataclass

RING_RADIUS = 15
ENGINE_BAY = (
    '<path class="lq" d="M4 16Q80 4 156 16"/><rect class="fp t" x="14" y="18" width="26" height="13" rx="2"/>'
    '<path class="t" d="M18 22H36M18 26H30"/><rect class="fr l" x="58" y="22" width="44" height="12" rx="4"/>'
    '<rect class="fp l" x="71" y="34" width="18" height="17"/><path class="l" d="M48 60Q56 51 64 51H96Q104 51 112 60"/>'
    '<rect class="fr l" x="36" y="60" width="86" height="13" rx="2"/><rect class="fr l" x="38" y="73" width="82" '
    'height="30"/><rect class="fp t" x="66" y="82" width="28" height="10"/><path class="t" d="M70 87H90"/>'
    '<circle class="fg l" cx="26" cy="96" r="13"/><circle class="fg l" cx="26" cy="62" r="8"/>'
    '<path class="lq" d="M34 62L39 96M18 62L13 96"/><path class="l" d="M36 80L32 86"/>'
    '<rect class="fg l" x="129" y="67" width="8" height="22"/><path class="fr l" d="M122 67V58Q133 46 144 58V67Z"/>'
    '<circle class="fv l" cx="150" cy="74" r="6"/><path class="lv" d="M150 68Q152 40 89 43"/>'
    '<path class="lq" d="M128 53Q112 46 104 60M133 50Q110 36 84 60M137 52Q120 30 60 60"/>'
)
FROM_ABOVE = (
    '<circle class="fr l" cx="66" cy="60" r="46"/><circle class="fp lq" cx="66" cy="60" r="34"/>'
    '<path class="lq" d="M42 44Q36 60 42 76M90 44Q96 60 90 76"/><path class="lb" d="M66 60L88 38"/>'
    '<circle class="fi" cx="66" cy="60" r="5"/><path class="l" d="M44 92L60 84M60 84l6 6"/>'
    '<path class="ls" d="M40 26A44 44 0 0 1 74 17l-5 -6m5 6l-8 3"/><rect class="fr l" x="108" y="54" width="10" '
    'height="12"/><circle class="fv l" cx="132" cy="60" r="15"/><path class="l" d="M96 60H118"/>'
    '<path class="lv" d="M147 60H158"/>'
)
PULLEY = (
    '<circle class="fr l" cx="56" cy="66" r="44"/><circle class="fp lq" cx="56" cy="66" r="30"/>'
    '<circle class="fg l" cx="56" cy="66" r="7"/><path class="ns" d="M78 28L84 18"/>'
    '<path class="l" d="M74 8Q96 14 108 34"/><path class="t" d="M78 12l-3 6M86 16l-4 5M94 22l-5 4M101 29l-6 3"/>'
    '<path class="ds" d="M142 84L90 28"/><path class="fr l" d="M128 86L142 72L156 88L144 104Z"/>'
)
DIALS = (
    '<circle class="fr l" cx="44" cy="56" r="36"/><path class="t" d="M20 76L25 72M14 56H20M22 34L27 38M44 20V27'
    'M66 34L61 38M74 56H68M68 76L63 72"/><path class="nv" d="M44 56L60 36"/><circle class="fi" cx="44" cy="56" r="4"/>'
    '<circle class="fr l" cx="122" cy="56" r="30"/><path class="t" d="M100 64H106M122 28V34M144 64H138"/>'
    '<path class="ns" d="M122 56L108 46"/><circle class="fi" cx="122" cy="56" r="3"/><path class="lv" d="M44 92V116"/>'
)
PAPERS = (
    '<path class="fp l" d="M8 22Q24 14 40 22Q56 14 72 22V84Q56 76 40 84Q24 76 8 84Z"/><path class="l" d="M40 22V84"/>'
    '<path class="t" d="M15 34H33M15 44H33M15 54H28M47 34H65M47 44H65M47 54H60"/><rect class="fr l" x="88" y="40" '
    'width="26" height="50" rx="3"/><rect class="fp t" x="93" y="46" width="16" height="12"/>'
    '<path class="l" d="M114 52Q124 54 122 66V78Q122 84 118 82"/><path class="fg l" d="M118 112L138 76L158 112Z"/>'
    '<path class="l" d="M138 76V62"/><path class="fs ls" d="M138 62L150 66L138 70Z"/>'
)
SEAT = (
    '<rect class="fr l" x="8" y="20" width="144" height="44" rx="8"/><circle class="fp l" cx="42" cy="42" r="15"/>'
    '<path class="ns" d="M42 42L52 34"/><circle class="fp l" cx="120" cy="42" r="9"/><path class="lb" d="M120 38V46"/>'
    '<path class="l" d="M60 116L72 82M78 116L86 82"/><rect class="fg l" x="66" y="76" width="26" height="9" rx="3"/>'
    '<path class="ls" d="M118 74q8 6 0 12M126 70q13 10 0 20M134 66q19 14 0 28"/>'
)


@dataclass(frozen=True)
class Spot:
    """A place in one of the pictures: its shapes, and the middle of the ring, in a box of 160 by 120."""

    picture: str
    x: int
    y: int


SPOTS = {
    "plate": Spot(ENGINE_BAY, 80, 87),
    "label": Spot(ENGINE_BAY, 27, 24),
    "plugs": Spot(ENGINE_BAY, 84, 60),
    "carburettor": Spot(ENGINE_BAY, 80, 42),
    "hose": Spot(ENGINE_BAY, 131, 48),
    "distributor": Spot(ENGINE_BAY, 133, 62),
    "head": Spot(ENGINE_BAY, 50, 66),
    "front": Spot(ENGINE_BAY, 26, 80),
    "rotor": Spot(FROM_ABOVE, 80, 44),
    "points": Spot(FROM_ABOVE, 54, 88),
    "weights": Spot(FROM_ABOVE, 42, 60),
    "vacuum unit": Spot(FROM_ABOVE, 132, 60),
    "marks": Spot(PULLEY, 88, 20),
    "light": Spot(PULLEY, 142, 88),
    "vacuum gauge": Spot(DIALS, 52, 46),
    "tachometer": Spot(DIALS, 114, 50),
    "book": Spot(PAPERS, 40, 50),
    "pump": Spot(PAPERS, 101, 54),
    "map": Spot(PAPERS, 138, 78),
    "key": Spot(SEAT, 120, 42),
    "speedometer": Spot(SEAT, 42, 42),
    "pedal": Spot(SEAT, 78, 80),
    "ear": Spot(SEAT, 128, 80),
}


def drawing(spot: str) -> str:
    """The drawing of a place, as SVG that the pages style. Raises KeyError for a place that is not drawn."""
    place = SPOTS[spot]
    ring = f'<circle class="look" cx="{place.x}" cy="{place.y}" r="{RING_RADIUS}"/>'
    shapes = f"{place.picture}{ring}"
    return f'<svg class="pp-vignette" viewBox="0 0 160 120" aria-hidden="true" focusable="false">{shapes}</svg>'
