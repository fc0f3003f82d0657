"""The parts of the front end that reckon, each imported as the plain module it is and tried in a real browser."""

from __future__ import annotations

from itertools import pairwise

import pytest

from course.widgets.shared.front_end import WIDGETS


@pytest.mark.parametrize("name", sorted(path.relative_to(WIDGETS).as_posix() for path in WIDGETS.rglob("*.js")))
def test_every_module_loads_alone(modules, name):
    """Every module is sound by itself and finds what it imports."""
    assert modules(name, "return Object.keys(part).length") > 0


@pytest.mark.parametrize(("value", "angle"), [(0, -135), (15, 0), (30, 135), (7.5, -67.5), (-4, -135), (90, 140.4)])
def test_the_needle_points_where_the_scale_says(modules, value, angle):
    """A scale from 0 to 30 over 270 degrees: its middle is straight up, and a needle rests just past either end."""
    assert modules("bench/dial.js", f"return part.dialAngle({value}, 30)") == pytest.approx(angle)


def test_numbers_stand_where_the_needle_points(modules):
    """Every number on a printed scale lies in the direction in which the needle shows that number."""
    scale = "{name: 'inHg', top: 30, major: 5, middle: 1, minor: 0.5, read: 1}"
    wrong = modules(
        "bench/dial.js",
        f"""
        const dial = new part.Dial('Vacuum gauge', 'vacuum', 'vacuum');
        dial.setScale({scale});
        return [...dial.ticks.querySelectorAll('text')].filter((text) => {{
            const way = Math.atan2(text.getAttribute('x') / 64, -text.getAttribute('y') / 57) * 180 / Math.PI;
            return Math.abs(way - part.dialAngle(Number(text.textContent), 30)) > 0.01;
        }}).map((text) => text.textContent);""",
    )
    assert wrong == []


@pytest.mark.parametrize(
    ("scale", "numbers", "lines"),
    [
        ("part.quantity('inHg')", 7, 61),  # half inches
        ("part.quantity('kPa')", 6, 51),
        ("part.IDLE_SCALE", 7, 61),  # 25 rpm
        ("part.ROAD_SCALE", 7, 61),
    ],
)
def test_a_scale_has_a_line_at_every_step(modules, scale, numbers, lines):
    """The printed lines of every size together are one at every step of the scale, the numbers one at every fifth or
    so."""
    assert modules(
        "shared/units.js",
        f"""
        const {{ Dial }} = await import('/bench/dial.js');
        const dial = new Dial('n', 'n', 'speed');
        dial.setScale({scale});
        const drawn = [...dial.ticks.querySelectorAll('path')].map((path) => path.getAttribute('d')).join('');
        return [dial.ticks.querySelectorAll('text').length, drawn.match(/M/g).length];""",
    ) == [numbers, lines]


@pytest.mark.parametrize(
    ("value", "line", "words"),
    [
        (17.05, 1, "at 17"),
        (17.7, 1, "between 17 and 18, nearer 18"),
        (17.3, 1, "between 17 and 18, nearer 17"),
        (17.5, 1, "halfway between 17 and 18"),
        (17.9, 1, "at 18"),
        (668, 25, "between 650 and 675, nearer 675"),
    ],
)
def test_a_needle_is_told_as_it_stands_between_its_lines(modules, value, line, words):
    """No finer number is told than the scale shows."""
    assert modules("bench/needle_words.js", f"return part.placeInWords({value}, {line})") == words


@pytest.mark.parametrize(
    ("needle", "words"),
    [
        ("17.7", "between 17 and 18, nearer 18 inHg"),
        ("17.7 + 0.2 * Math.sin(40 * s)", "between 17 and 18, nearer 18 inHg"),  # a tremble is no movement
        ("18 + 0.75 * Math.sin(2 * Math.PI * s)", "at 18 inHg; swings by 1½ about once a second"),
        ("(s % 1) < 0.2 ? 15 : 18", "at 18 inHg; drops by 3 about once a second"),
        ("12 + 2 * s", "at 18 inHg, and rises"),
        ("18 + 2 * Math.sign(Math.sin(2 * Math.PI * 6 * s))", "at 20 inHg; swings by 4, quickly"),
    ],
)
def test_a_needle_that_moves_is_told_as_it_is_seen(modules, needle, words):
    """How far and how often, and never why."""
    told = modules(
        "bench/needle_words.js",
        f"""
        const seen = new part.SeenNeedle();
        for (let ms = 0; ms <= 3000; ms += 40) {{ const s = ms / 1000; seen.look(ms, {needle}); }}
        return seen.words(1, 'inHg');""",
    )
    if words.startswith("at 20 inHg; swings"):  # where it stands most is a matter of a hair
        assert told.partition(";")[2] in (" swings by 4, quickly", " drops by 4, quickly", " jumps up by 4, quickly")
    else:
        assert told == words


# Conversion factors: 1 inHg (0 degC) = 3.38639 kPa, NIST SP 811 (2008), appendix B.8.
@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (10, "inHg", "10.0 inHg"),
        (10, "kPa", "33.9 kPa"),
        (29.92, "kPa", "101.3 kPa"),
        (100, "°F", "212 °F"),
        (-40, "°F", "-40 °F"),
        (82.4, "°C", "82 °C"),
    ],
)
def test_units_are_told_rightly(modules, value, unit, words):
    """A reading in either system, with its unit."""
    assert modules("shared/units.js", f"return part.inWords({value}, '{unit}')") == words


@pytest.mark.parametrize(("deg", "turn"), [(0, 26), (10, 15), (-10, 37), (90, 26 - 1.1 * 63), (-90, 26 + 1.1 * 13)])
def test_the_mark_stands_before_top_centre_on_the_left(modules, deg, turn):
    """An earlier mark stands further anticlockwise on the rim, and one off the scale rests just past its end."""
    assert modules("bench/pulley_picture.js", f"return part.markTurn({deg})") == pytest.approx(turn)


def test_the_pulley_shows_its_mark_where_its_scale_has_the_number(modules):
    """The mark at 20 degrees points at the number 20, and no mark is seen where there is none to see."""
    mark, number, hidden = modules(
        "bench/pulley_picture.js",
        """
        const picture = new part.PulleyPicture();
        picture.show(20);
        const text = [...picture.root.querySelectorAll('text')].find((one) => one.textContent === '20');
        const way = Math.atan2(text.getAttribute('x'), -text.getAttribute('y')) * 180 / Math.PI;
        const turn = Number(picture.mark.getAttribute('transform').match(/[-\\d.]+/)[0]);
        picture.show(null);
        return [turn, way, picture.mark.getAttribute('visibility')];""",
    )
    assert mark == pytest.approx(number, abs=0.01)
    assert hidden == "hidden"


@pytest.mark.parametrize(
    ("rpm", "by", "speed"),
    [(1500, 100, 1600), (1500, -500, 1000), (600, -500, 500), (3400, 500, 3500), ("null", 100, 600)],
)
def test_a_speed_to_hold_is_stepped_within_its_range(modules, rpm, by, speed):
    """Steps end at the least and the most that can be held; an empty field counts as the least."""
    assert modules("bench/hand_held.js", f"return part.steppedSpeed({rpm}, {by}, 500, 3500)") == speed


# Conversion factor: 1 in = 25.4 mm exactly, NIST SP 811 (2008), appendix B.8.
@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("point_gap", 0.4, "0.40 mm (0.016 in)"),
        ("crank_mark", 8, "8° before top centre"),
        ("crank_mark", 0, "top centre"),
        ("crank_mark", -5, "5° after top centre"),
        ("canister_screw", -1.5, "1.5 turns softer than you found it"),
        ("mixture_screw", 1.375, "1.375 turns out from fully in"),
        ("weights_stop", 24, "24 crank degrees"),
        ("distributor", 0, "as found"),
        ("distributor", -2.5, "2.50° anticlockwise of where you found it"),
    ],
)
def test_where_a_part_stands_is_told_in_words(modules, name, value, words):
    """Every part that is turned tells where it stands as hands know it."""
    assert modules("bench/where_words.js", f"return part.whereWords('{name}', {value})") == words


def test_the_day_is_told_in_both_systems_and_only_what_is_known(modules):
    """Feet and metres, both temperatures, the fuel's two numbers; nothing for what nobody gave."""
    day = "{altitude_ft: 5000, ambient_c: 15, humidity_percent: 60, octane_ron: 91, octane_mon: 83}"
    assert modules("bench/nameplate.js", f"return part.dayInWords({day})") == [
        ["Altitude", "5000 ft (1524 m)"],
        ["Air", "59 °F (15 °C)"],
        ["Humidity of the air", "60 %"],
        ["Fuel in the tank", "91 RON, 83 MON"],
    ]
    assert modules("bench/nameplate.js", "return part.dayInWords({octane_ron: 95})") == [["Fuel in the tank", "95 RON"]]


def test_every_tool_that_shows_something_has_a_tile_where_it_is_offered(modules):
    """An exercise's tiles are those of its tools, and a bench without tools has none."""
    script = """
        const lamp = {name: 'test_lamp', shows: 'test lamp'}, brake = {name: 'load_brake', shows: 'brake'};
        const work = [{controls: [{name: 'brake'}, lamp]}, {controls: [brake]}];
        const tiles = [...part.toolTiles(work).root.children].map((tile) => tile.dataset.tool);
        return [tiles, part.toolTiles([{controls: [{name: 'brake'}]}]).root];"""
    assert modules("bench/tool_tiles.js", script) == [["test_lamp", "load_brake"], None]


def test_the_chosen_units_are_kept_with_the_widget(modules):
    """A widget begins with its units, gives them those that are chosen, and is drawn again at once with a choice made
    here or at another widget, until its view is gone."""
    drawn, kept = modules(
        "shared/units.js",
        """
        const traits = {chosen_units: {vacuum: 'kPa'}}, drawn = [], gone = new AbortController();
        let listeners = [], saved = null;
        const told = () => { for (const listener of listeners) listener(); };
        const model = {
            get: (name) => traits[name],
            on: (_event, listener) => listeners.push(listener),
            off: (_event, listener) => { listeners = listeners.filter((one) => one !== listener); },
            set: (name, value) => { traits[name] = value; told(); },
            save_changes: () => { saved = traits.chosen_units; },
        };
        part.followUnits(model, (units) => drawn.push(units), gone.signal);
        part.chooseUnits(model, {temperature: '°C'});
        traits.chosen_units = {vacuum: 'inHg', temperature: '°C'};
        told();
        gone.abort();
        told();
        return [drawn, saved];""",
    )
    assert drawn == [
        {"vacuum": "kPa", "temperature": "°F"},
        {"vacuum": "kPa", "temperature": "°C"},
        {"vacuum": "inHg", "temperature": "°C"},
    ]
    assert kept == drawn[1]


def test_what_is_not_read_is_said_so(modules):
    """No number is made up where a gauge is not connected, and a speed is told to five turns a minute."""
    assert modules("shared/units.js", "return part.inWords(null, 'kPa', 'no hose')") == "no hose"
    assert modules("shared/units.js", "return part.speedInWords(null, 'lead off')") == "lead off"
    assert modules("shared/units.js", "return part.speedInWords(652.6)") == "655 rpm"


@pytest.mark.parametrize("values", [[], [17], [17, 17.2], [0, 30], [640, 655, 1490], [0.2, 0.3]])
def test_a_lane_of_the_strip_holds_its_line(modules, values):
    """The range of a lane holds every value, is as wide as it must be at least, and has a round middle."""
    least = 4
    low, high = modules("bench/strip_chart.js", f"return part.span({values}, {least})")
    assert low >= 0 and high - low >= least
    assert all(low <= value <= high for value in values)
    assert ((low + high) / 2 / (least / 4)) % 1 == pytest.approx(0.0)


PLOT = """
    const plot = new part.OverTurn();
    plot.root.style.cssText = 'display: block; width: 500px; height: 150px';
    document.body.replaceChildren(plot.root);
    plot.show(READINGS);
    plot.stand(-4);"""


def test_the_plot_has_one_mark_for_each_own_reading_and_no_line_between(modules):
    """A dot for each vacuum and a triangle for each speed that was read, hollow where the engine idled otherwise, in
    the order of the turns; nothing else is drawn of a curve."""
    readings = "[[0, 17, 700, true], [-2, 18, 720, false], [-4, 18.5, null, false], [-6, null, 740, false]]"
    dots, triangles, hollow, across, down, words = modules(
        "bench/over_turn.js",
        PLOT.replace("READINGS", readings)
        + """
        const all = (selector) => [...plot.root.querySelectorAll(selector)];
        return [all('circle').length, all('.eb-own-speed path').length, all('.eb-own-ghost').length,
            all('circle').map((dot) => Number(dot.getAttribute('cx'))),
            all('circle').map((dot) => Number(dot.getAttribute('cy'))), plot.root.getAttribute('aria-label')];""",
    )
    assert (dots, triangles, hollow) == (3, 3, 2)
    assert across == sorted(across, reverse=True) and down == sorted(down, reverse=True)
    assert words.startswith(
        "Your own readings over the turn of the distributor body: 4 readings, from 6° anticlockwise"
    )


def test_the_plot_without_readings_says_so(modules):
    """No mark, and a sentence for those who see it and those who hear it."""
    marks, shown, heard = modules(
        "bench/over_turn.js",
        PLOT.replace("READINGS", "[]")
        + """
        return [plot.root.querySelectorAll('.eb-own').length, plot.root.textContent,
            plot.root.getAttribute('aria-label')];""",
    )
    assert marks == 0 and "no reading yet" in shown and heard.startswith("No reading yet")


def test_the_strip_joins_what_was_and_what_is(modules):
    """History that arrives after the first readings goes before them, in order and without doubles."""
    times = modules(
        "bench/strip_chart.js",
        """
        const strip = new part.StripChart();
        strip.add(100.0, 700, 17); strip.add(100.2, 701, 17);
        strip.fill([[98, 690, null], [99, 695, 16], [100, 700, 17]]);
        return strip.points.map((point) => point.time_s);""",
    )
    assert times == [98, 99, 100, 100.2]


def test_firings_come_evenly_and_in_turn(modules):
    """At 30 firings a second just less than a second holds thirty, evenly spaced over the seam of two plans, each
    cylinder in its turn."""
    due = modules(
        "bench/sound.js",
        """
        const beats = [1, 0.5, 1.1];
        const first = part.firingsBetween(10, 10.4, 30, beats, {at: 10, cylinder: 0});
        const second = part.firingsBetween(10.4, 10.99, 30, beats, first.next);
        return [...first.due, ...second.due];""",
    )
    assert len(due) == 30
    gaps = [later["at"] - sooner["at"] for sooner, later in pairwise(due)]
    assert gaps == pytest.approx([1 / 30] * 29)
    assert [firing["strength"] for firing in due] == [1, 0.5, 1.1] * 10


def test_a_stopped_engine_is_silent(modules):
    """Without firings nothing is due, and an engine that starts later does not catch up with what it missed."""
    due, late = modules(
        "bench/sound.js",
        """
        const rest = part.firingsBetween(10, 10.4, 0, [1, 1], {at: 3, cylinder: 1});
        const later = part.firingsBetween(60, 60.19, 20, [1, 1], {at: 11, cylinder: 0});
        return [rest.due, later.due];""",
    )
    assert due == []
    assert len(late) == 4 and late[0]["at"] == 60


def test_a_dead_cylinder_leaves_a_gap(modules):
    """A cylinder that does not fire is heard as a gap at its turn; no strength goes beyond its bounds."""
    due = modules(
        "bench/sound.js",
        """
        return part.firingsBetween(0, 0.19, 40, [1, 0, 9, -1], {at: 0, cylinder: 0}).due.map((one) => one.strength)""",
    )
    assert due == [1, 0, 1.2, 0, 1, 0, 1.2, 0]


def test_pings_are_spread_over_their_time(modules):
    """The pings of one message sound one after the other within its time."""
    times = modules("bench/sound.js", "return part.pingTimes([0.2, 0.4, 3], 5, 0.3)")
    assert [ping["at"] for ping in times] == pytest.approx([5.05, 5.15, 5.25])
    assert [ping["loudness"] for ping in times] == [0.2, 0.4, 1]


def test_shapes_of_sound_stay_within_bounds_and_end_quietly(modules):
    """No sample leaves the range that a speaker takes, and each shape has died away at its end."""
    for shape in ("beatShape", "pingShape"):
        loudest, rest = modules(
            "bench/sound.js",
            f"""
            const shape = part.{shape}(48000);
            return [Math.max(...shape.map(Math.abs)), Math.max(...shape.slice(-50).map(Math.abs))];""",
        )
        assert 0.1 < loudest < 2.0 and rest < 0.03


def test_sound_is_the_same_each_time(modules):
    """The noise in the sound is seeded."""
    assert modules("bench/sound.js", "return String(part.noise(50)) === String(part.noise(50))")
    assert modules("bench/sound.js", "return String(part.noise(50)) !== String(part.noise(50, 7))")


@pytest.mark.parametrize(
    ("waiting", "state"),
    [("null", "answers"), (100, "answers"), (3999, "answers"), (4000, "slow"), (19999, "slow"), (20000, "silent")],
)
def test_a_kernel_is_judged_by_how_long_it_keeps_us_waiting(modules, waiting, state):
    """A kernel that is waited for is first called slow and then silent."""
    assert modules("shared/kernel_watch.js", f"return part.kernelState({waiting})") == state


def test_an_answer_settles_what_was_asked_before_it(modules):
    """A late answer settles its question and the ones before it, and the word on the page goes away."""
    shown = modules(
        "shared/kernel_watch.js",
        """
        const shown = [], asked = [];
        const gone = new AbortController();
        const watch = new part.KernelWatch((number) => asked.push(number), (state) => shown.push(state), gone.signal);
        watch.question(); watch.question();
        watch.unanswered.set(1, performance.now() - 5000);
        watch.look();
        watch.answered(2);
        gone.abort();
        return [asked, shown];""",
    )
    assert shown == [[1, 2], ["slow", "answers"]]


def test_a_connection_that_throws_is_a_kernel_that_is_gone(modules):
    """Where a message cannot even be sent, the kernel is silent at once and stays so."""
    shown = modules(
        "shared/kernel_watch.js",
        """
        const shown = [];
        const gone = new AbortController();
        const fail = () => { throw new Error('Cannot send'); };
        const watch = new part.KernelWatch(fail, (state) => shown.push(state), gone.signal);
        watch.question();
        watch.look();
        gone.abort();
        return shown;""",
    )
    assert shown == ["silent"]


def test_what_to_do_fits_the_place(modules):
    """In a notebook the sentence names the menu, on a plain page it does not."""
    notebook = modules("shared/kernel_watch.js", "return part.kernelSentence('silent', false)")
    page = modules("shared/kernel_watch.js", "return part.kernelSentence('silent', true)")
    assert "Restart Kernel and Run All Cells" in notebook and "menu" not in page
    assert modules("shared/kernel_watch.js", "return part.kernelSentence('answers', true)") == ""
