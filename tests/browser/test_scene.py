"""The engine on the screen, alone in an empty page: its handles, what they send, and what they refuse."""

from __future__ import annotations

import itertools
import math

import pytest

import course
from course.widgets.bench.bench import described_at_hand, described_work
from course.widgets.shared.front_end import WIDGETS, module_text, style_text
from engine_sim import CONTROLS, load_card
from tests.browser.axe import violations
from tests.browser.conftest import MODULES_AT, MOVING

WIDTHS = (700, 410)
STATE = {
    "settings": {
        "brake": "on", "chocks": "in place", "ventilation": "on", "fan_area": "clear", "gear": "neutral",
        "helper": "nobody", "driver": "not seated", "tachometer": "on", "gauge_hose": "manifold",
        "timing_light": "off", "dwell_meter": "off", "test_lamp": "off", "fuel_meter": "off", "exhaust_probe": "off",
        "coil_lead": "in the cap", "spanner": "off", "ignition_switch": "off", "crank_mark": 0,
        "vacuum_hose": "off and plugged", "clamp": "loose", "distributor": 0, "refit": "as found", "point_gap": 0.4,
        "springs": "maker's pair", "weights_stop": 24, "canister_screw": 0, "idle_screw": 2, "mixture_screw": 1.5,
        "throttle": 0, "hold_speed": 0, "load_brake": 0, "fuel": "as found", "route": "full pull",
    },
    "running": True, "warm": True, "on_road": False, "speed_rpm": 800, "beats": [1, 1, 0.9, 1, 1, 1],
}  # fmt: skip
PUT_ON_THE_PAGE = """async ({controls, state, width, facts, style}) => {
    const part = await import('/bench/scene/engine_scene.js');
    const {hands} = await import('/bench/hands.js');
    const box = document.createElement('section');
    box.className = 'engine-bench';
    box.style.cssText = `width: ${width}px; margin: 0`;
    document.head.innerHTML = `<style>${style}</style>`;
    document.body.replaceChildren(box);
    const [sent, said] = [[], []]; // a scene that is gone may still send: not to its successor
    Object.assign(window, {sent, said});
    window.state = state;
    window.show = (settings, more = {}) => {
        Object.assign(state.settings, settings);
        scene.show(Object.assign(state, more));
        worked.update(state.settings);
    };
    const act = (one) => sent.push(one);
    const all = [{title: 'All', controls: controls.filter(({name}) => name !== 'back_to_mark')}];
    window.worked = hands(all, act, () => {}, (name) => scene.follow(name));
    window.scene = new part.EngineScene(
        {controls, facts, act, say: (one) => said.push(one), handle: (name) => worked.handle(name)});
    box.append(scene.element, worked.root);
    worked.take('All');
    show({});
}"""


class ScenePage:
    """One scene with the controls of every tool there is, and the pointer on it."""

    def __init__(self, page):
        self.page = page
        self.page.goto(f"{MODULES_AT}/")

    def put(self, width: int, cylinders: int = 6, **facts) -> None:
        """Set the scene up at a width, as `STATE` has it; what was sent and said before is forgotten."""
        given = {"cylinders": cylinders, "rotor_turns": "clockwise", "vacuum_source": "manifold", **facts}
        controls = every_control()
        style = style_text("shared/palette.css", "bench/bench.css", "bench/scene/scene.css")
        shown = {"controls": controls, "state": STATE, "width": width, "facts": given, "style": style}
        self.page.evaluate(PUT_ON_THE_PAGE, shown)

    def look(self, name: str) -> None:
        self.page.evaluate("name => scene.lookAt(name)", name)

    def show(self, settings: dict | None = None, **more) -> None:
        self.page.evaluate("([settings, more]) => show(settings, more)", [settings or {}, more])

    def sent(self) -> list[dict]:
        """Every act so far, when the last one has had time to leave."""
        self.page.wait_for_timeout(180)
        return self.page.evaluate("sent")

    def said(self) -> list[str]:
        return self.page.evaluate("said")

    def middle(self, selector: str) -> tuple[float, float]:
        box = self.page.locator(selector).first.bounding_box()
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def on_picture(self, x: float, y: float) -> tuple[float, float]:
        """Where a place of the picture, in its own units, is on the page."""
        return tuple(
            self.page.evaluate(
                """([x, y]) => {
                    const place = new DOMPoint(x, y).matrixTransform(
                        document.querySelector('.es-view svg').getScreenCTM());
                    return [place.x, place.y]; }""",
                [x, y],
            )
        )

    def drag(self, start: tuple[float, float], by: tuple[float, float], shift: bool = False) -> None:
        """A quick pull in ten equal pieces."""
        self.page.mouse.move(*start)
        if shift:
            self.page.keyboard.down("Shift")
        self.page.mouse.down()
        self.page.mouse.move(start[0] + by[0], start[1] + by[1], steps=10)
        self.page.mouse.up()
        if shift:
            self.page.keyboard.up("Shift")

    def stands(self, name: str) -> float:
        return float(self.page.locator(f"input[data-control={name}]").input_value())


def every_control() -> list[dict]:
    """The controls of a bench with every tool, as the browser gets them."""
    everything = EveryTool()
    return [
        *described_at_hand(everything),
        *(control for group in described_work(everything) for control in group["controls"]),
    ]


class EveryTool:
    """Stands for a session in which every tool is offered, as far as its controls are described."""

    tools = frozenset(name for name, control in CONTROLS.items() if control.tool)

    @staticmethod
    def choices(name: str) -> tuple[str, ...]:
        return CONTROLS[name].choices


def answer(route):
    """Give the page the modules of the front end and nothing else."""
    name = route.request.url.removeprefix(f"{MODULES_AT}/")
    if name == "":
        route.fulfill(content_type="text/html", body="<!DOCTYPE html><title>scene</title><body></body>")
    elif name == "joined.js":
        route.fulfill(content_type="text/javascript", body=module_text("bench/bench.js"))
    elif (WIDGETS / name).is_file() and name.endswith(".js"):
        route.fulfill(content_type="text/javascript", body=(WIDGETS / name).read_text(encoding="utf-8"))
    else:
        route.fulfill(status=404, body="")


@pytest.fixture(scope="module")
def scene(browser):
    """A page that finds the modules of the front end and nothing else."""
    context = browser.new_context(viewport={"width": 1100, "height": 3200}, **MOVING)
    page = context.new_page()

    page.route("**/*", answer)
    page.set_default_timeout(5000)
    yield ScenePage(page)
    context.close()


BODY_LEFT, BODY_RIGHT = (119, 168), (270, 180)  # on the ring of the body, between leads
LUG = (176, 255)


@pytest.mark.parametrize("width", [*WIDTHS, 1000])
def test_three_pixels_turn_the_body_by_a_quarter_degree_at_any_size(scene, width):
    """Thirty pixels are two and a half degrees whatever the drawn size: down on the right is clockwise, down on the
    left is anticlockwise."""
    scene.put(width)
    scene.look("distributor")
    scene.drag(scene.on_picture(*BODY_RIGHT), (0, 30))
    assert scene.stands("distributor") == 2.5
    assert scene.sent()[-1] == {"control": "distributor", "value": 2.5}
    scene.show({"distributor": 2.5})
    scene.drag(scene.on_picture(*BODY_LEFT), (0, 30))
    assert scene.sent()[-1] == {"control": "distributor", "value": 0}


def test_the_picture_turns_with_the_body(scene):
    """The body is drawn where the state has it, clockwise to the right, and goes back when an act changes nothing."""
    scene.put(700)
    scene.look("distributor")
    scene.show({"distributor": 10})
    turned = "document.querySelector('.es-view [data-part=distributor]').parentNode.getAttribute('transform')"
    assert scene.page.evaluate(turned).startswith("rotate(10 ")
    scene.drag(scene.on_picture(*BODY_RIGHT), (0, 24))
    assert scene.page.evaluate(turned).startswith("rotate(12 ")
    scene.page.wait_for_function(f"{turned}.startsWith('rotate(10 ')", timeout=5000)
    assert scene.stands("distributor") == 10


def test_shift_turns_finer(scene):
    """With Shift held the same pull turns the body a quarter as far."""
    scene.put(700)
    scene.look("distributor")
    scene.drag(scene.on_picture(*BODY_RIGHT), (0, 48), shift=True)
    assert scene.stands("distributor") == 1.0


def test_the_slider_is_geared_as_the_body_is(scene):
    """A pull along the slider turns as a pull at the body does, and no touch of its track makes the body jump."""
    scene.put(410)
    scene.look("distributor")
    slider = scene.page.locator("input[data-control=distributor]").bounding_box()
    scene.drag((slider["x"] + slider["width"] / 2, slider["y"] + slider["height"] / 2), (-30, 0))
    assert scene.stands("distributor") == -2.5


def test_a_pull_all_the_way_round_a_screw_goes_on_turning_it(scene):
    """A hand that circles the idle screw turns it by the length of its way, and not back on the far side."""
    scene.put(700)
    scene.look("carburettor")
    x, y = scene.on_picture(330, 258)
    around = [
        (x + 20 * math.cos(turn), y + 20 * math.sin(turn)) for turn in (math.pi / 10 * part for part in range(21))
    ]
    scene.page.mouse.move(*around[0])
    scene.page.mouse.down()
    for place in around[1:]:
        scene.page.mouse.move(*place)
    scene.page.mouse.up()
    way = sum(math.dist(one, other) for one, other in itertools.pairwise(around))
    assert scene.stands("idle_screw") == pytest.approx(2 + 0.05 * way / 3, abs=0.1)


def test_acts_are_few_and_at_whole_steps(scene):
    """A long pull sends at most one act in 100 ms, each at a whole quarter degree, and its end is not lost."""
    scene.put(700)
    scene.look("distributor")
    x, y = scene.on_picture(*BODY_RIGHT)
    scene.page.mouse.move(x, y)
    scene.page.mouse.down()
    before = scene.page.evaluate("performance.now()")
    for down in range(1, 41):
        scene.page.mouse.move(x, y + 3 * down)  # one by one, but not slowly
    passed_ms = scene.page.evaluate("performance.now()") - before
    scene.page.mouse.up()
    values = [act["value"] for act in scene.sent()]
    assert values[-1] == 10.0
    assert all(value * 4 == round(value * 4) for value in values)
    assert len(values) <= passed_ms / 100 + 2


def test_a_tight_clamp_holds_the_body(scene):
    """One act of the whole pull goes to the engine, which refuses it in words; the body does not move."""
    scene.put(700)
    scene.look("distributor")
    scene.show({"clamp": "tight"})
    scene.drag(scene.on_picture(*BODY_RIGHT), (0, 60))
    assert len(scene.sent()) == 1
    assert scene.stands("distributor") == 0
    scene.page.locator("input[data-control=distributor]").press("ArrowRight")
    assert scene.stands("distributor") == 0


@pytest.mark.parametrize(
    ("at", "word"),
    [((196, 190), "clips"), ((336, 150), "rod"), ((128, 60), "full voltage")],
    ids=["cap", "unit", "lead"],
)
@pytest.mark.parametrize("width", WIDTHS)
def test_a_hand_on_the_wrong_part_learns_why_not(scene, width, at, word):
    """A pull at the cap, the vacuum unit or a lead turns nothing and says why."""
    scene.put(width)
    scene.look("distributor")
    scene.drag(scene.on_picture(*at), (0, 40))
    assert scene.sent() == []
    assert len(scene.said()) == 1 and word in scene.said()[0]


def test_keys_and_wheel_turn_by_steps(scene):
    """An arrow is the fine step, a page key the coarse one, Home and End throw nothing to a stop, and the wheel turns
    only what has the focus."""
    scene.put(700)
    scene.look("distributor")
    slider = scene.page.locator("input[data-control=distributor]")
    slider.hover()
    scene.page.mouse.wheel(0, -100)
    assert scene.stands("distributor") == 0
    for key, stands in [("ArrowRight", 0.25), ("PageUp", 2.25), ("ArrowLeft", 2.0), ("Home", 2.0), ("End", 2.0)]:
        slider.press(key)
        assert scene.stands("distributor") == stands
    scene.page.mouse.wheel(0, -100)
    scene.page.wait_for_function("document.querySelector('input[data-control=distributor]').value === '2.25'")
    assert slider.get_attribute("aria-valuetext") == "2.25° clockwise of where you found it"
    assert slider.get_attribute("data-lm-suppress-shortcuts") == "true"


def test_a_body_at_its_stop_goes_no_further(scene):
    """A long pull ends where the slot ends."""
    scene.put(700)
    scene.look("distributor")
    scene.show({"distributor": 24})
    scene.drag(scene.on_picture(*LUG), (-90, 0))
    assert scene.sent()[-1] == {"control": "distributor", "value": CONTROLS["distributor"].high}


def test_a_pull_at_a_stop_is_felt_once(scene):
    """A body that stands at its stop and is pulled on asks the bench once for its sentence; one that can go back does
    not."""
    scene.put(700)
    scene.look("distributor")
    scene.show({"distributor": 25})
    scene.drag(scene.on_picture(*LUG), (-60, 0))
    assert scene.sent() == [{"control": "distributor", "by": 0.25}]
    scene.drag(scene.on_picture(*LUG), (60, 0))
    assert scene.sent()[-1] == {"control": "distributor", "value": 20}


@pytest.mark.parametrize("cylinders", [4, 6, 8])
@pytest.mark.parametrize("way", ["clockwise", "anticlockwise"])
def test_towers_stand_in_firing_order_the_way_the_rotor_turns(scene, cylinders, way):
    """Evenly spaced, one for each cylinder, and beginning with cylinder one."""
    scene.put(410, cylinders, rotor_turns=way)
    towers = scene.page.evaluate(
        """async (facts) => (await import('/bench/scene/distributor_from_above.js')).towersOf(facts)""",
        {"cylinders": cylinders, "rotor_turns": way},
    )
    step = 360 / cylinders * (1 if way == "clockwise" else -1)
    assert towers[0]["cylinder"] == 1
    assert sorted(tower["cylinder"] for tower in towers) == list(range(1, cylinders + 1))
    turns = [tower["deg"] - towers[0]["deg"] for tower in towers]
    assert turns == pytest.approx([step * place for place in range(cylinders)])


def test_arrow_and_mark_are_drawn_only_where_told(scene):
    """Neither is there before; the mark comes when it was made, its half on the body moves away with the body, and the
    arrow comes when the way of the rotor is looked up."""
    scene.put(700)
    scene.look("distributor")
    seen = """() => ['.es-arrow', '.es-paint'].map((one) => [...document.querySelectorAll(`.es-view ${one}`)].filter(
        (part) => part.checkVisibility({visibilityProperty: true})).length)"""
    assert scene.page.evaluate(seen) == [0, 0]
    scene.show({"distributor": 4}, marked_at=1)
    scene.page.get_by_role("button", name="Rotor: show which way it turns").click()
    assert scene.page.evaluate(seen) == [1, 2]
    onbody = "[...document.querySelectorAll('.es-paint')].map((one) => one.getAttribute('transform'))"
    assert any((turn or "").startswith("rotate(3 ") for turn in scene.page.evaluate(onbody))


def test_the_clamp_bolt_is_pressed_on_the_picture(scene):
    """A press on the bolt asks for the next place of the clamp: tight, snug, loose, and tight again."""
    scene.put(410)
    scene.look("distributor")
    scene.page.mouse.click(*scene.on_picture(196, 271))
    scene.show({"clamp": "tight"})
    scene.page.mouse.click(*scene.on_picture(196, 271))
    assert scene.sent() == [{"control": "clamp", "value": "tight"}, {"control": "clamp", "value": "snug"}]


def test_the_clamp_bolt_tells_its_three_places(scene):
    """Tight, snug and loose are drawn and named each in its own way."""
    scene.put(410)
    scene.look("distributor")
    seen = set()
    for place in CONTROLS["clamp"].choices:
        scene.show({"clamp": place})
        assert scene.page.locator(".es-name", has_text=f"clamp bolt, {place}").count() == 1
        seen.add(scene.page.evaluate("document.querySelector('.es-view [data-part=clamp]').innerHTML"))
    assert len(seen) == 3


CLOSE_UPS = ("seat", "hoses", "terminals", "distributor", "carburettor", "pulley")
# Every named part of the pictures: where it is, the name of its control, and another state of it.
PARTS = (
    ("seat", "brake", "off"),
    ("seat", "chocks", "away"),
    ("seat", "gear", "park"),
    ("seat", "driver", "everyone clear, foot on the brake"),
    ("seat", "ventilation", "off"),
    ("seat", "helper", "at the brake"),
    ("hoses", "vacuum_hose", "on"),
    ("hoses", "gauge_hose", "ported"),
    ("terminals", "tachometer", "off"),
    ("terminals", "coil_lead", "out and earthed"),
    ("terminals", "dwell_meter", "on"),
    ("terminals", "timing_light", "on"),
    ("terminals", "test_lamp", "on"),
    ("terminals", "ignition_switch", "on"),
    ("distributor", "distributor", 5.0),
    ("distributor", "clamp", "tight"),
    ("distributor", "canister_screw", 0.5),
    ("carburettor", "idle_screw", 2.25),
    ("carburettor", "mixture_screw", 1.75),
    ("carburettor", "throttle", 0.5),
    ("carburettor", "fuel_meter", "on"),
    ("pulley", "crank_mark", 10),
    ("pulley", "spanner", "on"),
    ("pulley", "fan_area", "not checked"),
)
DRAWN = """name => {
    const part = document.querySelector(`.es-view [data-part=${name}]`);
    const lever = part.parentNode.getAttribute('transform');
    return [part.outerHTML, lever, part.getAttribute('transform')].join(); }"""


@pytest.mark.parametrize(("close_up", "name", "other"), PARTS, ids=[name for _, name, _ in PARTS])
def test_every_named_part_has_state_handle_and_label(scene, close_up, name, other):
    """The picture of the part follows its state, a real control with the part's own label works it, and where it stands
    is told in words."""
    scene.put(410)
    scene.look(close_up)
    scene.show({"spanner": "on"} if name == "crank_mark" else {}, running=False)
    role, where = ("group", "[aria-pressed=true]") if CONTROLS[name].kind == "choice" else ("slider", None)
    handle = scene.page.get_by_role(role, name=CONTROLS[name].label, exact=True)
    assert scene.page.locator(f"[data-control={name}]").count() >= 1

    def stands():
        return handle.locator(where).inner_text() if where else handle.get_attribute("aria-valuetext")

    before, words = scene.page.evaluate(DRAWN, name), stands()
    scene.show({name: other})
    assert scene.page.evaluate(DRAWN, name) != before
    assert stands() != words


def test_there_are_two_dozen_parts_and_all_can_be_moved():
    """The table above names 24 parts, each once, and each with a second state that its control has."""
    assert len({name for _, name, _ in PARTS}) == len(PARTS) == 24
    for _, name, other in PARTS:
        CONTROLS[name].checked(other)


@pytest.fixture(scope="module", params=[False, True], ids=["by mouse", "by touch"])
def held(request, browser, scene):
    """The scene, worked by a mouse or by a finger, and how large a place to take hold of has to be."""
    if not request.param:
        yield scene, 32.0
        return
    context = browser.new_context(viewport=scene.page.viewport_size, has_touch=True, is_mobile=True)
    context.route("**/*", answer)
    yield ScenePage(context.new_page()), 44.0
    context.close()


@pytest.mark.parametrize("close_up", CLOSE_UPS)
@pytest.mark.parametrize("width", [*WIDTHS, 345])  # the last: within a lesson on a phone
@pytest.mark.parametrize("where", ["as found", "hooked up"])
def test_handles_keep_apart_and_labels_stay_inside(held, width, close_up, where):
    """At most seven parts to take hold of; no two controls overlap, nor two ends to take hold of, wherever they are;
    targets are 32 pixels high, 44 by touch; every label is inside the picture, at least 12 pixels high, and on no other
    label."""
    scene, least = held
    scene.put(width)
    scene.look(close_up)
    if where == "hooked up":
        scene.show(dict.fromkeys(("dwell_meter", "timing_light", "test_lamp", "spanner", "vacuum_hose"), "on"))
    found = scene.page.evaluate(
        """(least) => {
            const boxes = (selector) => [...document.querySelectorAll(selector)].filter(
                (one) => one.checkVisibility({visibilityProperty: true})).map((one) => one.getBoundingClientRect());
            const meet = (all) => all.flatMap((one, index) => all.slice(index + 1).filter((two) =>
                one.left < two.right - 1.5 && two.left < one.right - 1.5 && // joined choices share their edge
                one.top < two.bottom - 1.5 && two.top < one.bottom - 1.5).map((two) => [one, two]));
            const scene = document.querySelector('.engine-bench').getBoundingClientRect();
            const picture = document.querySelector('.es-view svg').getBoundingClientRect();
            const outside = (all, room) => all.filter((one) => one.left < room.left - 0.5 ||
                one.right > room.right + 0.5 || one.top < room.top - 0.5 || one.bottom > room.bottom + 0.5);
            const names = boxes('.es-view .es-name');
            const controls = boxes(':is(.eb-hands, .es-looks, .es-switches) :is(input, button)');
            const scale = picture.width / 400;
            return {
                handles: new Set([...document.querySelectorAll('.es-view :is(.es-grip, .es-press)')].map(
                    (one) => one.dataset.grip ?? one.dataset.part ?? one.closest('[data-part]').dataset.part)).size,
                overlapping: meet(controls), ends: meet(boxes('.es-view .es-end')), names: meet(names),
                small: boxes('.es-view :is(.es-end, .es-touch-here)').filter((one) => one.height < least - 0.1),
                low: controls.filter((one) => one.height < 31.5),
                outside: [...outside(names, picture), ...outside(boxes('.eb-label, .eb-where, .eb-hands *'), scene)],
                letters: Math.min(...[...document.querySelectorAll('.es-view text')].map(
                    (one) => parseFloat(getComputedStyle(one).fontSize))) * scale,
            }; }""",
        least,
    )
    assert 1 <= found.pop("handles") <= 7
    assert found.pop("letters") >= 11.95
    assert {what: boxes for what, boxes in found.items() if boxes} == {}


ROOM_TO_HOLD = """(least) => {
    // By name of each part to take hold of: whether a round place of that width is there that belongs to it alone.
    const nameOf = (one) => {
        const part = one?.closest('[data-grip], [data-part]');
        return part?.dataset.grip ?? part?.dataset.part; };
    const radius = least / 2 - 0.3;
    const rim = Array.from({length: 16}, (_, index) => [1, 0.5].map((share) => [
        share * radius * Math.cos(index * Math.PI / 8), share * radius * Math.sin(index * Math.PI / 8)])).flat();
    const found = {};
    for (const part of document.querySelectorAll('.es-view :is(.es-grip, .es-press)')) {
        const name = nameOf(part);
        const {left, top, right, bottom} = part.getBoundingClientRect();
        const fits = (x, y) => [[0, 0], ...rim].every(
            ([dx, dy]) => nameOf(document.elementFromPoint(x + dx, y + dy)) === name);
        const middles = [part, ...part.querySelectorAll('.es-touch-here')].map((one) => one.getBoundingClientRect());
        let room = middles.some((one) => fits((one.left + one.right) / 2, (one.top + one.bottom) / 2));
        for (let x = left + radius; x <= right - radius + 0.5 && !room; x += 1.5)
            for (let y = top + radius; y <= bottom - radius + 0.5 && !room; y += 1.5) room = fits(x, y);
        found[name] = room || Boolean(found[name]);
    }
    return found; }"""


@pytest.mark.parametrize("close_up", CLOSE_UPS)
@pytest.mark.parametrize("width", [*WIDTHS, 345])
@pytest.mark.parametrize("where", ["as found", "otherwise"])
def test_every_part_in_the_picture_has_room_to_be_taken_hold_of(held, width, close_up, where):
    """Brake lever, chocks, foot, helper, hose, screws, ends, whatever state they are in: a round place of 32 pixels, of
    44 for a finger, that belongs to that part and to no other."""
    scene, least = held
    scene.put(width)
    scene.look(close_up)
    if where == "otherwise":
        scene.show({name: other for at, name, other in PARTS if at == close_up}, running=False)
    room = scene.page.evaluate(ROOM_TO_HOLD, least)
    assert len(room) >= 1
    assert [name for name, there in room.items() if not there] == []


def test_a_place_that_is_empty_can_be_pressed(scene):
    """Where nobody sits, stands or where no hose is, a press on the place asks for them."""
    scene.put(700)
    scene.look("seat")
    scene.show({"ventilation": "off"})
    for at in ((151, 255), (340, 74), (371, 300)):
        scene.page.mouse.click(*scene.on_picture(*at))
    assert scene.sent() == [
        {"control": "driver", "value": "everyone clear, foot on the brake"},
        {"control": "helper", "value": "at the brake"},
        {"control": "ventilation", "value": "on"},
    ]


@pytest.mark.parametrize(
    ("close_up", "name", "start", "to", "choice"),
    [
        ("hoses", "vacuum_hose", (356, 262), (304, 96), "on"),
        ("hoses", "vacuum_hose", (356, 262), (250, 120), "off and open"),
        ("hoses", "gauge_hose", (108, 208), (84, 108), "ported"),
        ("hoses", "gauge_hose", (108, 208), (300, 300), "none"),
        ("terminals", "tachometer", (238, 78), (160, 280), "off"),
        ("terminals", "tachometer", (238, 78), (146, 84), "on the switch side"),
        ("terminals", "coil_lead", (352, 176), (350, 296), "out and earthed"),
        ("pulley", "spanner", (370, 268), (314, 236), "on"),
    ],
)
@pytest.mark.parametrize("width", WIDTHS)
def test_an_end_is_put_where_it_is_let_go(scene, width, close_up, name, start, to, choice):
    """An end that is pulled off goes on the place where it is let go, or hangs where there is none; one act is sent,
    and the picture waits for the state."""
    scene.put(width)
    scene.look(close_up)
    begin, end = scene.on_picture(*start), scene.on_picture(*to)
    scene.drag(begin, (end[0] - begin[0], end[1] - begin[1]))
    assert scene.sent() == [{"control": name, "value": choice}]
    grip = scene.page.locator(f"[data-grip={name}]")
    assert float(grip.get_attribute("cx")) == start[0]


def test_an_end_put_back_where_it_was_sends_nothing(scene):
    """A hose that is taken in hand and put back is no act."""
    scene.put(700)
    scene.look("hoses")
    scene.drag(scene.on_picture(356, 262), (6, 4))
    assert scene.sent() == []


@pytest.mark.parametrize(
    ("name", "key", "value"),
    [
        ("idle_screw", "ArrowRight", 2.05),
        ("idle_screw", "PageDown", 1.75),
        ("mixture_screw", "ArrowLeft", 1.375),
        ("throttle", "ArrowUp", 0.05),
    ],
)
def test_screws_and_throttle_work_by_keys(scene, name, key, value):
    """A key is one step of the control, as its buttons have it."""
    scene.put(410)
    scene.look("carburettor")
    scene.page.locator(f"input[data-control={name}]").press(key)
    assert scene.sent() == [{"control": name, "value": value}]


@pytest.mark.parametrize(
    ("name", "at", "value"), [("idle_screw", (345, 258), 2.5), ("mixture_screw", (104, 184), 0.25)]
)
def test_a_screw_turns_the_way_of_the_hand(scene, name, at, value):
    """Clockwise is in for both: the idle screw's number grows as it goes in, the mixture screw's falls."""
    scene.put(700)
    scene.look("carburettor")
    scene.drag(scene.on_picture(*at), (0, 30))
    assert scene.sent()[-1] == {"control": name, "value": value}


def test_the_crank_turns_only_with_a_spanner_on_it(scene):
    """Without one the engine is asked once and says why not; with one the mark goes to where it is turned."""
    scene.put(700)
    scene.look("pulley")
    scene.show(running=False)
    crank = scene.page.locator("input[data-control=crank_mark]")
    crank.press("ArrowRight")
    assert (len(scene.sent()), scene.stands("crank_mark")) == (1, 0)
    scene.show({"spanner": "on"})
    crank.press("PageUp")
    assert scene.stands("crank_mark") == 5


def test_on_the_road_the_selector_stands_in_drive(scene):
    """The driver has it there, and it comes back to where it was left."""
    scene.put(410)
    scene.look("seat")
    knob = "document.querySelector('.es-view [data-part=gear]').getAttribute('transform')"
    scene.show({"gear": "drive"})
    in_drive = scene.page.evaluate(knob)
    scene.show({"gear": "neutral"})
    assert scene.page.evaluate(knob) != in_drive
    scene.show(on_road=True)
    assert scene.page.evaluate(knob) == in_drive


def test_choices_are_pressed_and_told(scene):
    """Each place is a button that sends itself; the one that stands is pressed."""
    scene.put(410)
    scene.look("seat")
    gear = scene.page.get_by_role("group", name="Gear selector")
    gear.get_by_role("button", name="park").press("Enter")
    scene.page.get_by_role("button", name="Starter").click()
    assert scene.sent() == [{"control": "gear", "value": "park"}, {"control": "starter"}]
    assert gear.locator("[aria-pressed=true]").all_inner_texts() == ["neutral"]


def test_the_view_follows_the_phase_and_the_hand(scene):
    """A phase turns to its part, a press on the whole engine to the pressed one, and the focus to the part that it
    works; the drawings are hidden from a screen reader."""
    scene.put(700)
    shown = scene.page.locator(".es-looks [aria-pressed=true]")
    for phase, part in [("make safe", "Seat"), ("hook up", "Hoses"), ("set", "Distributor")]:
        scene.look(phase)
        assert shown.inner_text() == part
    scene.page.mouse.click(*scene.middle(".es-overview [data-look=carburettor]"))  # it shakes as the engine does
    assert shown.inner_text() == "Carburettor"
    for control, part in [("crank_mark", "Pulley"), ("throttle", "Carburettor"), ("distributor", "Distributor")]:
        scene.page.locator(f"input[data-control={control}]").focus()
        assert shown.inner_text() == part
    assert scene.page.locator(".engine-scene svg:not([aria-hidden=true])").count() == 0


FOCUS_SEEN = """() => [...document.querySelectorAll('.engine-bench :is(button, input)')].filter((one) => {
    if (!one.checkVisibility()) return false;
    one.focus();
    const {outlineStyle, outlineWidth, outlineOffset, outlineColor} = getComputedStyle(one);
    const ground = getComputedStyle(document.querySelector('.engine-bench')).backgroundColor;
    return outlineStyle !== 'solid' || parseFloat(outlineWidth) < 3 || parseFloat(outlineOffset) < 2 ||
        outlineColor === ground;
}).map((one) => one.outerHTML)"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_focus_is_seen_on_every_handle(scene, scheme):
    """A control that has the focus has a ring of three pixels, apart from it and in a colour of its own, in either
    light."""
    scene.page.emulate_media(color_scheme=scheme)
    scene.put(700)
    scene.page.keyboard.press("Tab")
    unseen = scene.page.evaluate(FOCUS_SEEN)
    scene.page.emulate_media(color_scheme="light")
    assert unseen == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_at_the_scene(scene, scheme):
    """No violation in any close-up, in the light and in the dark."""
    scene.page.emulate_media(color_scheme=scheme)
    scene.put(700)
    found = []
    for close_up in CLOSE_UPS:
        scene.look(close_up)
        found += [f"{close_up}: {line}" for line in violations(scene.page, ".engine-bench")]
    scene.page.emulate_media(color_scheme="light")
    assert found == []


MOVES = """async () => {
    const seen = new Set();
    for (let frame = 0; frame < 12; frame += 1) {
        await new Promise((done) => requestAnimationFrame(done));
        seen.add(document.querySelector('.es-blades').getAttribute('transform'));
    }
    return seen.size; }"""


def test_what_moves_in_life_moves(scene):
    """The fan turns while the engine does, as a blur above 300 rpm, and stands with it."""
    scene.put(700)
    assert scene.page.evaluate(MOVES) > 3
    blurred = "document.querySelector('.es-engine').classList.contains('es-blurred')"
    assert scene.page.evaluate(blurred)
    scene.show(running=False, cranking=True)
    assert scene.page.evaluate(MOVES) > 3 and not scene.page.evaluate(blurred)
    scene.show(running=False, cranking=False)
    assert scene.page.evaluate(MOVES) == 1


def test_nothing_moves_by_itself_where_motion_is_not_wanted(scene):
    """With reduced motion the fan of a running engine is a still blur and the road a still road."""
    scene.page.emulate_media(reduced_motion="reduce")
    try:
        scene.put(700)
        scene.look("seat")
        scene.show(on_road=True)
        assert scene.page.evaluate(MOVES) == 1
        assert scene.page.evaluate("document.getAnimations().length") == 0
    finally:
        scene.page.emulate_media(reduced_motion="no-preference")
    assert scene.page.evaluate("document.getAnimations().length") == 1


def test_an_uneven_engine_shakes(scene):
    """Even beats leave the block where it is; a missing one throws it the more the more is missing."""
    shakes = scene.page.evaluate(
        """async () => {
            const {shakeOf} = await import('/bench/scene/overview.js');
            const most = (beats) => Math.max(...beats.map((_, turn) => Math.abs(shakeOf(beats, turn))));
            return [most([1, 1, 1, 1]), most([1, 0.8, 1, 1]), most([1, 0, 1, 1])]; }"""
    )
    assert shakes[0] == 0 and 0 < shakes[1] < shakes[2]


def test_a_cap_with_another_number_of_towers_is_refused(scene):
    """A card with five cylinders is told what there can be."""
    with pytest.raises(Exception, match="4, 6 or 8 towers"):
        scene.put(410, 5)


def test_an_exercise_without_tools_has_no_handles_for_them(scene):
    """Only controls that are offered have handles, and every close-up still opens."""
    scene.put(410)
    names = [name for name, control in CONTROLS.items() if control.tool]
    script = """async (tools) => {
        const {EngineScene} = await import('/bench/scene/engine_scene.js');
        const controls = CONTROLS_GIVEN.filter((one) => !tools.includes(one.name));
        const given = {act: () => {}, say: () => {}, facts: {cylinders: 4}, handle: () => undefined};
        const scene = new EngineScene({controls, ...given});
        document.body.replaceChildren(scene.element);
        const left = [];
        for (const one of ['seat', 'hoses', 'terminals', 'distributor', 'carburettor', 'pulley']) {
            scene.lookAt(one);
            scene.show(window.state);
            const taken = scene.element.querySelectorAll('.es-view :is(.es-grip, .es-press)');
            left.push(...[...taken].map((one) => one.dataset.grip ?? one.dataset.part));
        }
        return left.filter((name) => tools.includes(name)); }"""
    controls = every_control()
    scene.page.evaluate("controls => { window.CONTROLS_GIVEN = controls; }", controls)
    assert scene.page.evaluate(script, names) == []


@pytest.mark.parametrize("card", sorted((course.HERE / "engines").glob("*.toml")), ids=lambda path: path.stem)
def test_the_facts_of_a_card_are_read_from_its_nameplate(scene, card):
    """Cylinders, the way the rotor turns and the source of the vacuum, as the card has them."""
    card = load_card(card)
    facts = scene.page.evaluate(
        "async (lines) => (await import('/bench/scene/engine_scene.js')).factsOn(lines)",
        [list(line) for line in card.nameplate.items()],
    )
    assert facts == {
        "cylinders": card.block.cylinders,
        "rotor_turns": card.distributor.rotor_turns,
        "vacuum_source": card.vacuum_advance.source,
    }


def test_labels_can_be_switched_off(scene):
    """One press takes every name and its line off the picture, another brings them back; the controls keep theirs."""
    scene.put(700)
    scene.look("distributor")
    names = """() => [...document.querySelectorAll('.es-view :is(.es-name, .es-leader)')].filter(
        (one) => one.checkVisibility({visibilityProperty: true})).length"""
    before, switch = scene.page.evaluate(names), scene.page.get_by_role("button", name="Labels")
    switch.click()
    assert before > 6 and scene.page.evaluate(names) == 0 and switch.get_attribute("aria-pressed") == "false"
    assert scene.page.get_by_role("slider", name="Distributor body").is_visible()
    switch.click()
    assert scene.page.evaluate(names) == before


def test_a_snug_clamp_lets_the_body_turn_a_quarter_as_far(scene):
    """The pull that turns a free body by ten degrees turns this one by two and a half, and it stays there."""
    scene.put(700)
    scene.look("distributor")
    scene.show({"clamp": "snug"})
    scene.drag(scene.on_picture(*BODY_RIGHT), (0, 120))
    assert scene.stands("distributor") == 2.5
    assert scene.sent()[-1] == {"control": "distributor", "value": 2.5}
    scene.show({"distributor": 2.5})
    scene.page.locator("input[data-control=distributor]").press("PageUp")
    assert scene.sent()[-1] == {"control": "distributor", "value": 3.0}


def test_an_engine_of_which_the_plate_says_nothing_has_no_picture(scene):
    """Where the nameplate does not say how many cylinders there are, nothing is drawn; the controls are there."""
    facts = scene.page.evaluate(
        "async (lines) => (await import('/bench/scene/engine_scene.js')).factsOn(lines)", [["Idle speed", "800 rpm"]]
    )
    assert facts is None


BENCH = """async ({given, style}) => {
    document.head.innerHTML = `<style>${style}</style>`;
    const listeners = {};
    window.sent = [];
    const model = {
        get: (name) => given[name],
        on: (name, listener) => (listeners[name] ??= []).push(listener),
        off: (name, listener) => { listeners[name] = (listeners[name] ?? []).filter((one) => one !== listener); },
        send: (message) => sent.push(message),
        set: (name, value) => window.set(name, value),
        save_changes: () => { window.saved = given.chosen_units; },
    };
    window.set = (name, value) => { given[name] = value; (listeners[`change:${name}`] ?? []).forEach((one) => one()); };
    const el = document.createElement('div');
    document.body.replaceChildren(el);
    const {default: widget} = await import('/joined.js'); // the one text that a lesson's page gets
    window.leave = widget.render({model, el});
}"""


def traits_of_a_bench(nameplate: list[list[str]]) -> dict:
    """What the kernel gives to a bench with the phase Set in hand and its engine running."""
    return {
        "exercise": "one", "title": "", "task": "", "nameplate": nameplate, "conditions": {}, "tools": {}, "tries": 1,
        "work": described_work(), "at_hand": described_at_hand(), "phase": "Set", "rail": [], "own_readings": [],
        "settings": STATE["settings"], "record": [], "said": {}, "problem": "", "points": 24, "closes": False,
        "verdict": {},
        "readings": {
            "time_s": 1, "running": True, "cranking": False, "warm": True, "on_road": False, "speed_rpm": 800,
            "vacuum_inhg": 17, "coolant_c": 85, "idle_words": "", "ping_words": "", "ping_level": 0,
        },
    }  # fmt: skip


def test_the_bench_shows_the_engine_and_takes_its_acts(scene):
    """It turns to the phase in hand; a pull at the body is the act that a press on the bench is, what is refused is
    said in the bench's own line, and another engine is drawn with its own leads."""
    six, four = (
        [list(line) for line in load_card(course.HERE / "engines" / f"{name}.toml").nameplate.items()]
        for name in ("delivery_truck_six", "farm_runabout_four")
    )
    given = traits_of_a_bench(six)
    style = style_text("shared/palette.css", "bench/bench.css", "bench/scene/scene.css")
    page = scene.page
    page.evaluate(BENCH, {"given": given, "style": style})
    assert page.locator(".engine-scene").count() == 1
    assert page.locator(".es-view [data-part=lead] .es-hose").count() == 6 + 1
    scene.drag(scene.on_picture(*BODY_RIGHT), (0, 30))
    page.wait_for_function("sent.some((one) => one.control === 'distributor' && one.value === 2.5)")
    page.evaluate("settings => set('settings', settings)", {**STATE["settings"], "distributor": 2.5})
    assert scene.stands("distributor") == 2.5
    scene.drag(scene.on_picture(196, 190), (0, 30))
    assert "clips" in page.locator(".eb-message").inner_text()
    assert page.locator(".eb-group:not([hidden]) input[data-control=distributor]").count() == 1
    paint = """() => [...document.querySelectorAll('.es-view .es-paint')].filter(
        (part) => part.checkVisibility({visibilityProperty: true})).length"""
    assert page.evaluate(paint) == 0
    page.evaluate("settings => set('settings', settings)", {**STATE["settings"], "marked_at": 0})
    assert page.evaluate(paint) == 2  # the mark across body and block
    page.evaluate("set('tools', {timing_light: {words: '', value: 8}})")
    page.evaluate("settings => set('settings', settings)", {**STATE["settings"], "timing_light": "on"})
    page.locator(".es-looks").get_by_role("button", name="Pulley").click()
    assert page.evaluate(paint) == 1  # the mark on the pulley, in the light
    page.evaluate("set('tools', {})")
    assert page.evaluate(paint) == 0
    page.get_by_role("button", name="Hook up").click()
    assert page.locator(".es-looks [aria-pressed=true]").inner_text() == "Hoses"
    page.evaluate("lines => set('nameplate', lines)", four)
    page.locator(".es-looks").get_by_role("button", name="Distributor").click()
    assert page.locator(".es-view [data-part=lead] .es-hose").count() == 4 + 1
    page.evaluate("leave()")


def test_on_the_road_the_key_is_a_foot_that_is_lifted(scene):
    """The same act: a key turned in a vehicle that rolls can lock its steering, and nobody is to learn that here."""
    plate = [list(line) for line in load_card(course.HERE / "engines" / "delivery_truck_six.toml").nameplate.items()]
    given, page = traits_of_a_bench(plate), scene.page
    page.evaluate(BENCH, {"given": given, "style": style_text("shared/palette.css", "bench/bench.css")})
    key = page.locator(".eb-key [data-control=stop]")
    assert key.inner_text() == "Switch off"
    page.evaluate("readings => set('readings', readings)", {**given["readings"], "on_road": True})
    assert key.inner_text() == "Lift the foot"
    key.click()
    assert page.evaluate("sent.some((one) => one.control === 'stop')")
    page.evaluate("readings => set('readings', readings)", given["readings"])
    assert key.inner_text() == "Switch off"
    page.evaluate("leave()")


def test_what_next_says_what_it_costs_before_it_is_asked(scene):
    """The button warns first and sends nothing; only the second press asks. Where there is no guide there is none."""
    plate = [list(line) for line in load_card(course.HERE / "engines" / "delivery_truck_six.toml").nameplate.items()]
    style = style_text("shared/palette.css", "bench/bench.css", "bench/scene/scene.css")
    page = scene.page
    page.evaluate(BENCH, {"given": {**traits_of_a_bench(plate), "can_hint": True}, "style": style})
    page.get_by_role("button", name="What next?").click()
    assert "earns nothing in this try" in page.locator(".eb-steps").inner_text()
    assert page.evaluate("sent.filter((one) => one.hint)") == []
    page.get_by_role("button", name="Tell me").click()
    assert page.evaluate("sent.filter((one) => one.hint)") == [{"hint": True}]
    page.evaluate("leave()")
    page.evaluate(BENCH, {"given": traits_of_a_bench(plate), "style": style})
    assert page.get_by_role("button", name="What next?").count() == 0
    page.evaluate("leave()")


def test_units_chosen_at_another_bench_are_seen_at_once(scene):
    """Dials, charts, coolant and the pressed switches follow the learner's units while the bench is shown; a press at
    this bench is sent to all."""
    plate = [list(line) for line in load_card(course.HERE / "engines" / "delivery_truck_six.toml").nameplate.items()]
    style = style_text("shared/palette.css", "bench/bench.css", "bench/scene/scene.css")
    page = scene.page
    page.evaluate(BENCH, {"given": traits_of_a_bench(plate), "style": style})
    unit = page.locator(".eb-vacuum .eb-dial-unit")
    assert unit.text_content() == "inHg"
    page.evaluate("set('chosen_units', {vacuum: 'kPa', temperature: '°C'})")
    assert unit.text_content() == "kPa" and "85 °C" in page.locator(".eb-coolant-words").inner_text()
    pressed = page.locator(".eb-units [aria-pressed=true]")
    assert pressed.all_inner_texts() == ["kPa", "°C"]
    page.locator(".eb-units").get_by_role("button", name="inHg").click()
    assert page.evaluate("saved") == {"vacuum": "inHg", "temperature": "°C"}
    assert unit.text_content() == "inHg" and pressed.all_inner_texts() == ["inHg", "°C"]
    page.evaluate("leave()")


CREEPS = """async ([from, to]) => {
    const seen = [];
    const turning = document.querySelector('.es-view [data-part=distributor]').parentNode;
    show({}, {crept_deg: from});
    show({}, {crept_deg: to});
    for (const began = performance.now(); performance.now() - began < 1300;) {
        await new Promise((done) => requestAnimationFrame(done));
        seen.push(parseFloat(turning.getAttribute('transform').slice('rotate('.length)));
    }
    return seen; }"""


def test_the_body_creeps_as_the_clamp_bites(scene):
    """The bolt drags it far enough to be seen and lets it go back but for what it has crept; a page that is opened, and
    one without motion, shows it where it is."""
    scene.put(700)
    scene.look("distributor")
    scene.show({"distributor": 4})
    seen = scene.page.evaluate(CREEPS, [0, 0.2])
    assert max(seen) > 4.8 and min(seen) >= 4 and seen[-1] == 4.2
    seen = scene.page.evaluate(CREEPS, [0.2, -0.1])
    assert min(seen) < 3.2 and seen[-1] == 3.9
    scene.page.emulate_media(reduced_motion="reduce")
    try:
        scene.put(700)
        scene.look("distributor")
        seen = scene.page.evaluate(CREEPS, [0, 0.2])
    finally:
        scene.page.emulate_media(reduced_motion="no-preference")
    assert set(seen) == {0.2}
