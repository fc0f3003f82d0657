"""Model answers: the faultless work at every bench that has checks of its own, by what lessons and instruments say.

`WORKS` gives that work by the exercise's id; `check_rubric` tries a class's rubric with it. The slips by which the
tests show that each mistake costs its own points are in `tests/lessons/slips.py`.
"""

from __future__ import annotations

from collections.abc import Mapping

from .l00 import first_moves
from .l01 import at_the_stand
from .l02 import turn_and_watch
from .l03 import dwell_of_a_six, find_out, static
from .l05 import before_the_road, three_roads, two_fuels
from .l06 import choose_springs, match_the_unit, what_pings_where
from .l07 import at_home, at_the_harbour
from .l08 import mark_centre
from .l11 import first_figure
from .operator import Work

WORKS: Mapping[str, Work] = {
    "l00_first_moves": first_moves,
    "l01_three_speeds": at_the_stand,
    "l02_turn_and_watch": turn_and_watch,
    "l03_static": static,
    "l03_dwell_six": dwell_of_a_six,
    "l03_will_not_start": find_out,
    "l05_before_the_road": before_the_road,
    "l05_three_roads": three_roads,
    "l05_two_fuels": two_fuels,
    "l06_what_pings_where": what_pings_where,
    "l06_match_the_unit": match_the_unit,
    "l06_choose_springs": choose_springs,
    "l07_at_home": at_home,
    "l07_at_the_harbour": at_the_harbour,
    "l08_mark_centre": mark_centre,
    "l11_first_figure": first_figure,
}
