// An engine of one's own: entries by group, what follows from them, and where the sheet to print lies.

import { HANDS_OFF, element, freshId, onEnter, pushButton, setText } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { followUnits } from "../shared/units.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form, Measured, Written } from "../types.d.ts"
 * @import { VacuumUnit } from "../shared/units.js"
 *
 * @typedef {object} Entry
 * @property {string} id
 * @property {string} group
 * @property {string} label
 * @property {string} help
 * @property {string[]} units
 * @property {string[]} choices
 *
 * @typedef {object} Traits
 * @property {Entry[]} entries
 * @property {{ title: string, text: string, basis: string }[]} told
 * @property {string} first
 * @property {string} sheet
 * @property {string} page
 * @property {string} kept
 * @property {Record<string, string>} wrong
 *
 * @typedef {Measured | string | null} Given
 * @typedef {{ value: Record<string, Written | string | null> }} Answer
 * @typedef {Form<Traits, { value: Record<string, Given> }, Answer>} EngineCardForm
 */

const TOLD = /** @type {const} */ (["change:told", "change:sheet", "change:page", "change:kept"]);
const BY_CHOICE = { inHg: ["in", "cubic inches", "ft", "inHg"], kPa: ["mm", "litres", "m", "kPa"] };

/** @param {EngineCardForm} view */
function render(view) {
  const gone = new AbortController();
  const leave = showForm(view, (model, send) => new EngineCardWork(model, send, gone.signal), {
    press: "Record and write the sheet",
  });
  return () => {
    gone.abort();
    leave();
  };
}

class EngineCardWork {
  /**
   * @param {EngineCardForm["model"]} model
   * @param {() => void} send
   * @param {AbortSignal} gone
   */
  constructor(model, send, gone) {
    this.model = model;
    this.given = model.get("answer").value ?? {};
    this.lines = model.get("entries").map((entry) => entryLine(entry, this.given[entry.id] ?? null, send));
    this.told = element("dl", { class: "cf-told" });
    this.sheet = element("p", { class: "cf-sheet-place", role: "status", "aria-live": "polite" });
    this.print = pushButton("Open and print the sheet", () => openToPrint(model.get("page")), {
      class: "cf-print",
    });
    const groups = [...new Set(model.get("entries").map(({ group }) => group))];
    this.root = element(
      "div",
      {},
      element("p", {}, element("strong", {}, model.get("first"))),
      ...groups.map((group) => this.group(group)),
      this.told,
      this.sheet,
      this.print,
    );
    const listener = () => this.show();
    const mark = () => this.mark(model.get("wrong"));
    for (const event of TOLD) model.on(event, listener);
    model.on("change:wrong", mark);
    gone.addEventListener("abort", () => {
      for (const event of TOLD) model.off(event, listener);
      model.off("change:wrong", mark);
    });
    followUnits(model, ({ vacuum }) => this.offer(vacuum), gone);
    this.show();
    mark();
  }

  // An entry that holds nothing yet is offered in the units that were chosen.
  /** @param {VacuumUnit} chosen */
  offer(chosen) {
    for (const { field, unit } of this.lines) {
      const usual = BY_CHOICE[chosen].find((one) =>
        [...(unit?.options ?? [])].some(({ value }) => value === one),
      );
      if (unit && usual && !field.value) unit.value = usual;
    }
  }

  /** @param {string} name */
  group(name) {
    const lines = this.lines.filter(({ group }) => group === name);
    return element(
      "fieldset",
      { class: "cf-entries" },
      element("legend", {}, name),
      ...lines.map(({ root }) => root),
    );
  }

  value() {
    return { value: Object.fromEntries(this.lines.map(({ id, value }) => [id, value()])) };
  }

  // What is wanted stands at each entry that could not be taken; the first of them has the focus.
  /** @param {Record<string, string>} wrong */
  mark(wrong) {
    for (const { id, mark } of this.lines) mark(wrong[id] ?? "");
    this.lines.find(({ id }) => wrong[id])?.field.focus();
  }

  show() {
    this.told.replaceChildren(
      ...this.model
        .get("told")
        .flatMap(({ title, text, basis }) => [
          element("dt", {}, title),
          element("dd", {}, `${text} `, element("span", { class: "cf-basis" }, `(${basis})`)),
        ]),
    );
    const sheet = this.model.get("sheet");
    this.sheet.textContent = sheet
      ? `Your sheet is ready; it is kept as ${sheet} in the folder of this lesson, too. ${this.model.get("kept")}`.trim()
      : "";
    this.print.hidden = !this.model.get("page");
  }
}

// The page in a tab of its own, with the browser's own window for printing.
/** @param {string} page */
function openToPrint(page) {
  const address = URL.createObjectURL(new Blob([page], { type: "text/html" }));
  const opened = window.open(address);
  opened?.addEventListener("load", () => {
    opened.print();
    URL.revokeObjectURL(address);
  });
}

/**
 * @param {Entry} entry
 * @param {Given} given
 * @param {() => void} send
 */
function entryLine({ id, group, label, help, units, choices }, given, send) {
  const [name, hint, fault, unitName] = ["", "-help", "-fault", "-unit"].map((part) =>
    freshId(`cf-entry${part}`),
  );
  const described = { id: name, "aria-describedby": `${hint} ${fault}` };
  const field = choices.length
    ? element(
        "select",
        { ...HANDS_OFF, ...described },
        element("option", { value: "" }, "not known"),
        ...choices.map((text) => element("option", { value: text, selected: text === given }, text)),
      )
    : element("input", {
        ...HANDS_OFF,
        ...described,
        type: "text",
        inputmode: "decimal",
        autocomplete: "off",
        value: given ? String(given[0]) : "",
        on: { keydown: (event) => onEnter(event, send) },
      });
  const unit =
    units.length > 1
      ? element(
          "select",
          { ...HANDS_OFF, id: unitName },
          ...units.map((text) => element("option", { value: text, selected: text === given?.[1] }, text)),
        )
      : null;
  const wanted = element("span", { class: "cf-entry-fault", id: fault });
  const mark = (/** @type {string} */ sentence) => {
    setText(wanted, sentence);
    if (sentence) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  };
  for (const part of [field, unit]) part?.addEventListener("input", () => mark(""));
  const root = element(
    "div",
    { class: "cf-entry", "data-entry": id },
    element("label", { for: name }, label),
    element(
      "span",
      { class: "cf-entry-value" },
      field,
      unit ? element("label", { for: unitName, class: "cf-hidden" }, `Unit of ${label}`) : null,
      unit ?? (units[0] ? element("span", { class: "cf-unit" }, units[0]) : null),
    ),
    element("span", { class: "cf-hint", id: hint }, help),
    wanted,
  );
  const value = () =>
    choices.length ? field.value || null : { text: field.value, unit: unit ? unit.value : units[0] };
  return { id, group, root, field, unit, mark, value };
}

export default { initialize: hear, render };
