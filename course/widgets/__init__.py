"""Bench and question forms for the lessons' notebooks: `from course.widgets import bench, choice, number,
several, order, fill_sum, hook_up, curve, needle, diagnosis, engine_card, written, check, picture, words,
hand_in`."""

from graders.exercises.kinds import KINDS

from .cards.hand_in_cell import hand_in as hand_in
from .cards.picture_cell import picture as picture
from .cards.words_card import words as words
from .forms.bench import bench as bench
from .forms.check import check as check
from .forms.choice import choice as choice
from .forms.curve import curve as curve
from .forms.diagnosis import diagnosis as diagnosis
from .forms.engine_card import engine_card as engine_card
from .forms.hook_up import hook_up as hook_up
from .forms.lookup import need_forms
from .forms.needle import needle as needle
from .forms.number import number as number
from .forms.order import order as order
from .forms.several import several as several
from .forms.sum import fill_sum as fill_sum
from .forms.written import written as written
from .showing.desk import show_desk as show_desk
from .showing.player import replays as replays
from .showing.stand_in import stand_in as stand_in

need_forms(KINDS)
