// The bench in the browser: draws what the kernel says, sends what hands do, decides nothing about the engine.

import { element, freshId, pushButton, setAttribute, setText } from "../shared/elements.js";
import { KernelWatch } from "../shared/kernel_watch.js";
import {
  IDLE_SCALE,
  ROAD_SCALE,
  inWords,
  chooseUnits,
  followUnits,
  quantity,
  unitsOf,
} from "../shared/units.js";
import { Dial } from "./dial.js";
import { StripChart } from "./strip_chart.js";
import { EngineSound } from "./sound.js";
import { atHand, hands } from "./hands.js";
import { OverTurn } from "./over_turn.js";
import { EngineScene, factsOn } from "./scene/engine_scene.js";
import { Nameplate } from "./nameplate.js";
import { toolTiles, toolsInShort } from "./tool_tiles.js";
import { VerdictPart } from "./verdict.js";
import { WrittenRecord, minutesAndSeconds } from "../shared/log.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Act, Alive, Control, Group, Heartbeat, OrEmpty, Pair, Said, Settings, View } from "../types.d.ts"
 * @import { KernelState } from "../shared/kernel_watch.js"
 * @import { Line } from "../shared/log.js"
 * @import { UnitChoice } from "../shared/units.js"
 * @import { Day } from "./nameplate.js"
 * @import { Sound } from "./sound.js"
 * @import { OwnReading } from "./over_turn.js"
 * @import { History } from "./strip_chart.js"
 * @import { ToolReadings } from "./tool_tiles.js"
 * @import { Asked, Verdict } from "./verdict.js"
 *
 * @typedef {object} Readings
 * @property {number} time_s
 * @property {boolean} running
 * @property {boolean} cranking
 * @property {boolean} warm
 * @property {boolean} on_road
 * @property {number | null} speed_rpm
 * @property {number | null} vacuum_inhg
 * @property {number} coolant_c
 * @property {string} idle_words
 * @property {string} ping_words
 * @property {number} ping_level
 * @property {number[]} [beats]
 * @property {number} [crept_deg]
 *
 * @typedef {Said & { control: string }} SaidOfControl
 * @typedef {{ title: string, done: boolean, steps: [words: string, ticked: boolean][] }} RailPhase
 *
 * @typedef {object} Traits
 * @property {string} connection
 * @property {Partial<UnitChoice>} chosen_units
 * @property {string} exercise
 * @property {string} title
 * @property {string} task
 * @property {Pair[]} nameplate
 * @property {Day} conditions
 * @property {Group[]} work
 * @property {Control[]} at_hand
 * @property {RailPhase[]} rail
 * @property {boolean} can_hint
 * @property {string} phase
 * @property {OrEmpty<Readings>} readings
 * @property {ToolReadings} tools
 * @property {Settings} settings
 * @property {number} tries
 * @property {Line[]} record
 * @property {OwnReading[]} own_readings
 * @property {OrEmpty<SaidOfControl>} said
 * @property {number} points
 * @property {boolean} closes
 * @property {OrEmpty<Verdict>} verdict
 * @property {string} problem
 *
 * @typedef {Heartbeat | { history: true } | { listen: true } | { hint: true } | Asked | Act} Sent
 * @typedef {Partial<Alive & { sound: Sound, history: History }>} Heard
 * @typedef {View<Traits, Sent, Heard>} Bench
 */

const HEARTBEAT_MS = 5000;
const SHOWN_TO_A_CLASS = ["show", "replay"];
/** @type {Record<string, string | undefined>} */
const TAKES_A_WHILE = {
  wait_until_warm: "The engine warms up: minutes pass on its clock, a few seconds on yours…",
  wait: "Ten seconds pass on the engine's clock…",
};
const PROGRESS_EVERY_MS = 500;
/** @type {Record<string, string | undefined>} */
const KINDS = { done: "", stopped: "Stopped, unsafe:", "not possible": "Not possible:", note: "Note:" };

/** @param {Bench} view */
function render({ model, el }) {
  const leave = new AbortController();
  const bench = new BenchView(model, leave.signal);
  el.append(bench.root);
  bench.begin();
  return () => leave.abort();
}

class BenchView {
  problem = element("p", { class: "eb-problem", role: "alert", hidden: true });
  kernel = element("p", { class: "eb-kernel", role: "alert", hidden: true });
  message = element("div", { class: "eb-message", role: "status", "aria-live": "polite" });
  brief = element("div", { class: "eb-brief", "aria-hidden": "true" });
  state = element("span", { class: "eb-state" });
  coolant = element("div", { class: "eb-coolant-fill" });
  coolantWords = element("span", { class: "eb-coolant-words" });
  coolantMeter = element(
    "div",
    {
      class: "eb-coolant-bar",
      role: "meter",
      "aria-label": "Coolant temperature",
      "aria-valuemin": 0,
      "aria-valuemax": 120,
    },
    this.coolant,
  );
  idleWords = element("span", { class: "eb-heard" });
  pingWords = element("span", { class: "eb-heard" });
  pingFill = element("span", { class: "eb-ping-fill" });
  soundButton = pushButton("Sound: off", () => this.switchSound(), {
    class: "eb-plain eb-sound",
    "aria-pressed": "false",
  });
  tries = element("span", { class: "eb-tries" });
  rail = element("ol", {
    class: "eb-rail",
    "aria-label": "Steps of the method, done where ticked",
    hidden: true,
  });

  /** @type {number | undefined} */
  chalkedVacuum;
  /** @type {Readings | undefined} */
  latestReadings;
  /** @type {string | undefined} */
  spokenCoolant;
  /** @type {string[]} */
  toolsShort = [];
  /** @type {number | null} */
  setOff = null;
  /** @type {EngineScene | null} */
  scene = null;
  phase = "";
  stage = element("div", { class: "eb-stage" }, this.message);

  /**
   * @param {Bench["model"]} model
   * @param {AbortSignal} gone
   */
  constructor(model, gone) {
    this.model = model;
    this.gone = gone;
    this.units = unitsOf(model);
    this.isShown = SHOWN_TO_A_CLASS.includes(model.get("exercise"));
    this.fast = false;
    this.speed = new Dial("Tachometer", "speed", "speed");
    this.vacuum = new Dial("Vacuum gauge", "vacuum", "vacuum");
    this.strip = new StripChart();
    this.overTurn = new OverTurn();
    this.sound = new EngineSound();
    this.watch = new KernelWatch(
      (number) => model.send({ heartbeat: number }),
      (state, sentence) => this.showKernel(state, sentence),
      gone,
    );
    this.hands = hands(
      model.get("work"),
      (message) => this.act(message),
      (title) => {
        this.phase = title.toLowerCase();
        this.scene?.lookAt(this.phase);
      },
      (control) => this.scene?.follow(control),
    );
    this.atHand = atHand(model.get("at_hand"), (message) => this.act(message));
    this.record = new WrittenRecord();
    this.plate = new Nameplate(model.get("nameplate"), model.get("title"));
    this.tools = toolTiles(model.get("work"));
    this.steps = element(
      "div",
      { class: "eb-steps" },
      this.hands.phases,
      model.get("can_hint") ? this.whatNext() : null,
    );
    this.body = this.buildBody();
    this.verdict = new VerdictPart(model.get("points"), model.get("closes"), (message) =>
      this.watch.attemptAndAsk(() => model.send(message)),
    );
    this.foot = element("div", { class: "eb-foot" }, this.verdict.root, this.record.root);
    this.root = this.build();
  }

  buildBody() {
    const chalk = pushButton("Chalk the needles", () => this.markNeedles(), { class: "eb-plain" });
    return element(
      "div",
      { class: "eb-body" },
      element(
        "div",
        { class: "eb-see" },
        element(
          "div",
          { class: "eb-instruments" },
          this.vacuum.root,
          this.speed.root,
          this.atHand.key,
          this.brief,
        ),
        element("div", { class: "eb-at-hand" }, ...this.atHand.presses, chalk),
        this.plate.root,
        this.ear(),
      ),
      element("div", { class: "eb-work" }, this.stage, this.hands.root, this.tools.root, this.charts()),
    );
  }

  build() {
    const heading = freshId("eb-title");
    return element(
      "section",
      { class: "engine-bench", "aria-labelledby": heading, "data-exercise": this.model.get("exercise") },
      element(
        "div",
        { class: "eb-head" },
        element(
          "div",
          { class: "eb-title", id: heading },
          // A lesson may have two benches of one engine: what is to be done there tells them apart.
          this.model.get("task") ? element("span", { class: "eb-task" }, this.model.get("task")) : null,
          this.model.get("title") || "Engine bench",
        ),
        this.state,
        this.soundButton,
        this.rail,
        this.unitSwitches(),
        this.newTry(),
      ),
      this.problem,
      this.kernel,
      this.steps,
      this.body,
      this.foot,
    );
  }

  ear() {
    const gauge = element("span", { class: "eb-ping", "aria-hidden": "true" }, this.pingFill);
    return element(
      "div",
      { class: "eb-ear" },
      element("span", {}, element("span", { class: "eb-label" }, "You hear"), this.idleWords),
      element("span", {}, element("span", { class: "eb-label" }, "Under load"), this.pingWords, gauge),
      element(
        "span",
        {},
        element("span", { class: "eb-label", "aria-hidden": "true" }, "Coolant"),
        this.coolantMeter,
        this.coolantWords,
      ),
    );
  }

  // The last minutes, or the learner's own readings over the turn of the body: one or the other.
  charts() {
    const offered = { time: "The last minutes", turn: "Your readings over the turn" };
    const buttons = Object.entries(offered).map(([chart, text]) =>
      pushButton(text, () => show(chart), { class: "eb-choice", "data-chart": chart }),
    );
    const show = (/** @type {string} */ chosen) => {
      this.strip.canvas.hidden = chosen !== "time";
      this.overTurn.root.classList.toggle("eb-away", chosen !== "turn");
      for (const button of buttons)
        setAttribute(button, "aria-pressed", String(button.dataset.chart === chosen));
    };
    show("time");
    return element(
      "div",
      { class: "eb-charts" },
      element("div", { class: "eb-choices", role: "group", "aria-label": "Chart" }, ...buttons),
      this.strip.canvas,
      this.overTurn.root,
    );
  }

  unitSwitches() {
    /** @type {(label: string, key: keyof UnitChoice, options: UnitChoice[keyof UnitChoice][]) => Element} */
    const choose = (label, key, options) =>
      element(
        "div",
        { class: "eb-choices", role: "group", "aria-label": label },
        ...options.map((unit) =>
          pushButton(unit, () => chooseUnits(this.model, { [key]: unit }), {
            class: "eb-choice",
            "data-unit": unit,
          }),
        ),
      );
    return element(
      "div",
      { class: "eb-units" },
      choose("Unit of vacuum", "vacuum", ["inHg", "kPa"]),
      choose("Unit of temperature", "temperature", ["°F", "°C"]),
    );
  }

  switchSound() {
    if (this.sound.on) this.sound.stop();
    else if (!this.sound.start()) {
      this.message.dataset.kind = "note";
      this.message.replaceChildren(
        "This browser cannot play the engine's sound; the words under the gauges say the same.",
      );
      return;
    }
    if (this.sound.on) this.send({ listen: true });
    setText(this.soundButton, this.sound.on ? "Sound: on" : "Sound: off");
    setAttribute(this.soundButton, "aria-pressed", String(this.sound.on));
  }

  newTry() {
    const asked = this.askFirst(
      "New try",
      "Begin a new try? What you did so far is kept.",
      "Yes, begin again",
      () => this.act({ control: "begin" }),
    );
    return element("span", { class: "eb-new" }, this.tries, ...asked);
  }

  whatNext() {
    const warning = "You are told the next step. It is recorded, and the step earns nothing in this try.";
    return element(
      "span",
      { class: "eb-new" },
      ...this.askFirst("What next?", warning, "Tell me", () => this.send({ hint: true })),
    );
  }

  // A button that asks before it does what cannot be taken back.
  /**
   * @param {string} text
   * @param {string} warning
   * @param {string} yes
   * @param {() => void} doIt
   */
  askFirst(text, warning, yes, doIt) {
    const goOn = pushButton("No, go on", () => close(), { class: "eb-plain" });
    const ask = element(
      "span",
      { class: "eb-ask", hidden: true },
      element("span", {}, warning),
      pushButton(
        yes,
        () => {
          close();
          doIt();
        },
        { class: "eb-plain" },
      ),
      goOn,
    );
    const open = pushButton(
      text,
      () => {
        ask.hidden = false;
        open.hidden = true;
        goOn.focus();
      },
      { class: "eb-plain" },
    );
    const close = () => {
      ask.hidden = true;
      open.hidden = false;
      open.focus();
    };
    return [open, ask];
  }

  begin() {
    /** @type {<Name extends keyof Traits>(name: Name, update: (value: Traits[Name]) => void) => void} */
    const listen = (name, update) => {
      const listener = () => update(this.model.get(name));
      this.model.on(`change:${name}`, listener);
      this.gone.addEventListener("abort", () => this.model.off(`change:${name}`, listener));
      listener();
    };
    followUnits(this.model, (units) => this.showUnits(units), this.gone);
    listen("readings", (readings) => this.showReadings(readings));
    listen("settings", (settings) => {
      if (!Object.keys(settings).length) return;
      this.hands.update(settings);
      this.overTurn.stand(Number(settings.distributor));
      this.showScene();
    });
    listen("tools", (tools) => this.showTools(tools));
    listen("conditions", (day) => this.plate.show(day));
    listen("nameplate", (lines) => {
      this.plate.describe(lines);
      this.scene?.element.remove();
      this.scene = null;
      this.showScene();
    });
    listen("record", (lines) => this.record.show(lines));
    this.hands.take(this.model.get("phase"));
    // Before a class and in a recording the phase goes with the acts.
    if (this.isShown) {
      listen("phase", (title) => this.hands.take(title));
    }
    let shown = this.model.get("tries");
    listen("rail", (phases) => this.showRail(phases));
    listen("own_readings", (readings) => this.overTurn.show(readings));
    listen("tries", (tries) => {
      setText(this.tries, `Try ${tries}`);
      if (tries !== shown) this.hands.take(this.model.get("work")[0].title); // from the beginning
      shown = tries;
    });
    listen("said", (said) => this.showSaid(said));
    listen("verdict", (verdict) => this.verdict.show(verdict));
    listen("problem", (sentence) => this.showProblem(sentence));
    this.listenToAnswers();
    this.stopByEscape();
    this.send({ history: true });
    this.keepHeart();
  }

  listenToAnswers() {
    const listener = (/** @type {Heard} */ answer) => {
      if (answer.alive) this.watch.answered(answer.alive);
      if (answer.sound) this.sound.hear(answer.sound);
      if (answer.history) {
        this.strip.fill(answer.history);
        this.strip.draw(performance.now());
      }
    };
    this.model.on("msg:custom", listener);
    this.gone.addEventListener("abort", () => {
      this.model.off("msg:custom", listener);
      this.sound.stop();
    });
  }

  // Esc stops a turning engine wherever the focus is on the bench, or where nothing has it.
  stopByEscape() {
    document.addEventListener(
      "keydown",
      (event) => {
        const ours = event.target === document.body || this.root.contains(/** @type {Node} */ (event.target));
        const { running, cranking, on_road: onRoad } = this.latestReadings ?? {};
        if (event.key !== "Escape" || !ours || !(running || cranking || onRoad)) return;
        event.preventDefault();
        this.act({ control: "stop" });
      },
      { signal: this.gone },
    );
  }

  // A kernel that does not answer must not look like an engine that stands still.
  /**
   * @param {KernelState} state
   * @param {string} sentence
   */
  showKernel(state, sentence) {
    setText(this.kernel, sentence);
    this.kernel.hidden = state === "answers";
    this.root.classList.toggle("eb-silent", state === "silent");
    if (state === "silent") this.verdict.sayNotDone();
  }

  /** @param {Sent} message */
  send(message) {
    this.watch.attempt(() => this.model.send(message));
  }

  /** @param {Act} message */
  act(message) {
    this.scene?.follow(message.control);
    this.watch.attemptAndAsk(() => this.model.send(message));
    if (this.sound.on) this.send({ listen: true });
    const sentence = TAKES_A_WHILE[message.control];
    if (sentence) this.showProgress(sentence);
  }

  // How long the kernel is at it; how long it will take is not known, so the bar only says that work goes on.
  /** @param {string} sentence */
  showProgress(sentence) {
    const passed = element("span", { class: "eb-passed", "aria-hidden": "true" });
    const bar = element("progress", { "aria-label": "Under way" });
    this.message.replaceChildren(sentence, element("div", { class: "eb-progress" }, bar, passed));
    const begun = performance.now();
    const timer = setInterval(() => {
      if (!bar.isConnected || this.gone.aborted) clearInterval(timer);
      else setText(passed, `${Math.round((performance.now() - begun) / 1000)} s`);
    }, PROGRESS_EVERY_MS);
  }

  // What was done, right or wrong: a tick for each step, and its phase in another colour where all are there.
  /** @param {RailPhase[]} phases */
  showRail(phases) {
    const mark = (/** @type {boolean} */ done) =>
      element("span", { role: "img", "aria-label": done ? "done" : "not yet" }, done ? "✓" : "○");
    this.rail.hidden = !phases.length;
    this.rail.classList.toggle(
      "eb-rail-steps",
      phases.some(({ steps }) => steps.length),
    );
    this.rail.replaceChildren(
      ...phases.map(({ title, done, steps }) =>
        element(
          "li",
          { "data-done": String(done) },
          element("span", { class: "eb-rail-phase" }, mark(done), ` ${title}`),
          ...steps.map(([words, ticked]) =>
            element(
              "span",
              { class: "eb-rail-step", "data-done": String(ticked) },
              mark(ticked),
              ` ${words}`,
            ),
          ),
        ),
      ),
    );
  }

  /** @param {ToolReadings} tools */
  showTools(tools) {
    this.showScene();
    this.tools.update(tools);
    this.toolsShort = toolsInShort(tools);
  }

  // A page that is hidden does not watch; the kernel switches an engine off that nobody watches. Beside an engine that
  // stands there is nothing to watch, and nothing is sent; each act asks for itself whether the kernel answers.
  keepHeart() {
    const beat = () => {
      if (document.hidden || !this.root.isConnected) return;
      this.watch.question();
      if (this.sound.on) this.send({ listen: true });
    };
    const timer = setInterval(() => {
      const { running, cranking, on_road: onRoad } = this.latestReadings ?? {};
      if (running || cranking || onRoad || this.isShown) beat();
    }, HEARTBEAT_MS);
    document.addEventListener("visibilitychange", beat, { signal: this.gone });
    this.gone.addEventListener("abort", () => clearInterval(timer));
    requestAnimationFrame(beat);
  }

  /** @param {OrEmpty<Readings>} readings */
  showReadings(readings) {
    if (readings.time_s === undefined) return;
    this.latestReadings = readings;
    this.showScene();
    const { speed_rpm: speed, vacuum_inhg: vacuum } = readings;
    if (speed !== null) this.chooseRange(speed);
    this.speed.set(speed, "lead off");
    const { of } = quantity(this.units.vacuum);
    this.vacuum.set(vacuum === null ? null : of(vacuum), "no hose");
    setText(this.brief, this.toolsShort.join(" · ") || "no tool shows anything yet");
    this.brief.classList.toggle("eb-tool-idle", !this.toolsShort.length);
    this.brief.hidden = !this.tools.root;
    this.strip.add(readings.time_s, speed, vacuum);
    this.strip.draw(performance.now());
    this.showCoolant(readings);
    this.showEar(readings);
  }

  // The picture is made for each engine that comes to the bench, from what its nameplate tells.
  showScene() {
    const settings = this.model.get("settings");
    const { running, cranking, warm, on_road, speed_rpm, beats, crept_deg } = this.latestReadings ?? {};
    if (!Object.keys(settings).length) return;
    const facts = this.scene ? null : factsOn(this.model.get("nameplate"));
    if (facts) {
      this.scene = new EngineScene({
        controls: [
          ...this.model.get("at_hand"),
          ...this.model.get("work").flatMap((group) => group.controls),
        ],
        act: (message) => this.act(message),
        say: (sentence) => {
          this.message.dataset.kind = "note";
          this.message.replaceChildren(sentence);
        },
        facts,
        handle: (name) => this.hands.handle(name),
      });
      this.stage.prepend(this.scene.element);
      this.scene.lookAt(this.phase);
    }
    this.scene?.show({
      settings,
      running,
      cranking,
      warm,
      on_road,
      speed_rpm,
      beats,
      crept_deg,
      marked_at: /** @type {number | null | undefined} */ (settings.marked_at),
      mark_deg: this.model.get("tools").timing_light?.value,
    });
  }

  // A fine scale for setting the idle, a coarse one for driving; the gap between the two limits keeps it from flapping.
  /** @param {number} speed */
  chooseRange(speed) {
    const fast = this.fast ? speed > IDLE_SCALE.top * 0.8 : speed > IDLE_SCALE.top;
    if (fast !== this.fast) {
      this.fast = fast;
      this.rescale();
    }
  }

  /** @param {Readings} readings */
  showCoolant({ coolant_c: celsius, warm }) {
    const words = `${inWords(celsius, this.units.temperature)}, ${warm ? "warm" : "not yet warm"}`;
    this.coolant.style.width = `${Math.min(Math.max(celsius / 120, 0), 1) * 100}%`;
    this.coolant.classList.toggle("eb-warm", warm);
    setText(this.coolantWords, words);
    if (words !== this.spokenCoolant) {
      this.spokenCoolant = words;
      this.coolantMeter.setAttribute("aria-valuenow", celsius.toFixed(0));
      this.coolantMeter.setAttribute("aria-valuetext", words);
    }
  }

  /** @param {Readings} readings */
  showEar(readings) {
    this.setOff = readings.on_road ? (this.setOff ?? readings.time_s) : null;
    const running =
      this.setOff !== null
        ? `On the road, ${minutesAndSeconds(readings.time_s - this.setOff)}`
        : readings.cranking
          ? "Cranking"
          : readings.running
            ? "Running"
            : "Engine stopped";
    setText(this.state, running);
    this.atHand.update(readings.on_road);
    this.state.classList.toggle("eb-running", readings.running || readings.cranking);
    setText(this.idleWords, readings.idle_words || "nothing");
    setText(this.pingWords, readings.ping_words || "not under load");
    this.pingFill.style.width = `${readings.ping_level * 100}%`;
  }

  /** @param {OrEmpty<SaidOfControl>} said */
  showSaid(said) {
    const marked = KINDS[said.kind ?? ""] ?? "";
    this.message.dataset.kind = said.kind ?? "";
    this.message.dataset.number = String(said.number ?? 0);
    const plain = said.sentence || `Go through the phases above, from 1 to ${this.model.get("work").length}.`;
    const sentence = marked ? plain.replace(/^Stopped: (.)/, (_, first) => first.toUpperCase()) : plain;
    this.message.replaceChildren(...(marked ? [element("strong", {}, `${marked} `)] : []), sentence);
  }

  /** @param {string} sentence */
  showProblem(sentence) {
    setText(this.problem, sentence);
    this.problem.hidden = !sentence;
    const empty = Boolean(sentence) && this.model.get("readings").time_s === undefined;
    this.steps.hidden = this.body.hidden = this.foot.hidden = empty;
  }

  /** @param {UnitChoice} units */
  showUnits(units) {
    this.units = units;
    const chosen = Object.values(units).map(String);
    for (const button of this.root.querySelectorAll("[data-unit]"))
      setAttribute(button, "aria-pressed", String(chosen.includes(button.getAttribute("data-unit") ?? "")));
    this.rescale();
    if (this.latestReadings) this.showReadings(this.latestReadings);
  }

  rescale() {
    const scale = quantity(this.units.vacuum);
    this.vacuum.setScale(scale);
    this.vacuum.setChalk(this.chalkedVacuum === undefined ? null : scale.of(this.chalkedVacuum));
    this.speed.setScale(this.fast ? ROAD_SCALE : IDLE_SCALE);
    this.strip.setUnit(this.units.vacuum, scale.of);
    this.overTurn.setUnit(this.units.vacuum, scale.of);
  }

  // A chalk mark where each needle stands, as a mechanic leaves one on the glass.
  markNeedles() {
    const { speed_rpm: speed, vacuum_inhg: vacuum } = this.latestReadings ?? {};
    if (speed !== null && speed !== undefined) this.speed.setChalk(speed);
    if (vacuum !== null && vacuum !== undefined) this.chalkedVacuum = vacuum;
    this.rescale();
    if (this.latestReadings) this.showReadings(this.latestReadings);
    this.message.dataset.kind = "done";
    this.message.replaceChildren(
      `Chalk marks: tachometer ${this.speed.inWords()}, vacuum ${this.vacuum.inWords()}.`,
    );
  }
}

export default { initialize: hear, render };
