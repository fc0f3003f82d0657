"""A number has one home: no conversion factor is written out anywhere but where it is defined."""

from __future__ import annotations

import re
from pathlib import Path

from engine_sim.physics import units

ROOT = Path(__file__).parents[2]
PACKAGES, ENDINGS = ("engine_sim", "graders", "course"), {".py", ".js", ".css", ".toml"}
HOMES = {
    "engine_sim/physics/constants.py",
    "engine_sim/physics/units.py",
    "engine_sim/published_values.toml",  # the record that a test compares with the constant
    "course/widgets/shared/generated_units.js",
    "course/authoring/glossary.toml",  # prose, which a test below compares with the constant
}
FACTORS = re.compile(
    r"""(?<![\w.])(?:
    0\.3048 | 3\.2808\d* | 3386\d*(?:\.\d+)? | 3\.386\d* | 0\.2953\d* | 25\.4 | 0\.0254 | 101_?325(?:\.0)? | 101\.325
    | 273\.15 | 459\.67 | 9\.80?665 | 9\.81 | 1\.355?8\d* | 6_?89[45]\d*(?:\.\d+)? | 6\.89[45]\d* | 0\.4535\d*
    | 16\.387\d* | 0\.016387\d* | 1\.609\d* | 0\.7457\d* | 745\.7 | 0\.1047\d* | 9\.549\d*
    )(?!\w) | (?<!\w)1\.8\s*\*\s*\w+ | \*\s*1\.8\b | 9(?:\.0)?\s*/\s*5\b | 5(?:\.0)?\s*/\s*9\b""",
    re.VERBOSE,
)


def written_out(text: str) -> list[str]:
    """Every conversion factor that a text writes out in digits."""
    return [found.group().strip() for found in FACTORS.finditer(text)]


def sources() -> list[Path]:
    """Every source file of the three packages that may not write a factor out."""
    files = (path for package in PACKAGES for path in (ROOT / package).rglob("*") if path.suffix in ENDINGS)
    return sorted(path for path in files if path.relative_to(ROOT).as_posix() not in HOMES)


def test_no_factor_is_written_out():
    """No Python, JavaScript, style sheet or rubric holds a conversion factor in digits."""
    found = {
        path.relative_to(ROOT).as_posix(): digits
        for path in sources()
        if (digits := written_out(path.read_text(encoding="utf-8")))
    }
    assert found == {}


def test_prose_has_the_same_factor():
    """Where the glossary and the lessons print the inch of mercury in figures, it is the constant, rounded."""
    glossary = (ROOT / "course/authoring/glossary.toml").read_text(encoding="utf-8")
    lessons = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "course/source").rglob("*.ipynb"))]
    printed = [digits for text in (glossary, *lessons) for digits in re.findall(r"(?<![\d.])3\.38\d*", text)]
    assert printed
    assert [digits for digits in printed if float(digits) != round(units.KPA_PER_INHG, len(digits) - 2)] == []


FORMS = ("feet * 0.3048", "(3386.389)", "p = 101_325.0", "t - 273.15", "1.8 * c + 32", "(c * 1.8)", "gap / 25.4:.3f")
OTHERS = ("x25.4", "125.4", "0.30481", "width: 1.8;", "1.8: 2", "v3.3861a")


def test_a_factor_written_out_would_be_seen():
    """The search sees a factor in the forms in which people write it."""
    assert [text for text in FORMS if not written_out(text)] == []


def test_other_numbers_are_left_alone():
    """A number that only looks a little like a factor is not taken for one."""
    assert [text for text in OTHERS if written_out(text)] == []
