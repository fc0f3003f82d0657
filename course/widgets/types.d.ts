// What the modules of the front end take for granted of each other, of the kernel and of anywidget. Nothing of it is
// shipped: `tsc` checks the modules by it. The types of one widget stand in its own module, under the name of its class
// in Python; tests/course/test_front_end.py compares their traits with those that Python synchronises.

import type { KernelWatch } from "./shared/kernel_watch.js";
import type { UnitChoice } from "./shared/units.js";

/** What is used of anywidget's model: `Sent` goes to the kernel, `Heard` comes from it. */
export interface Model<Traits, Sent = never, Heard = never> {
  get<Name extends keyof Traits>(name: Name): Traits[Name];
  on(event: "change" | `change:${keyof Traits & string}`, listener: () => void): void;
  on(event: "msg:custom", listener: (message: Heard) => void): void;
  off(event: "change" | `change:${keyof Traits & string}`, listener: () => void): void;
  off(event: "msg:custom", listener: (message: Heard) => void): void;
  send(message: Sent): void;
  set<Name extends keyof Traits>(name: Name, value: Traits[Name]): void;
  save_changes(): void;
}

/** What anywidget gives to `render`. */
export interface View<Traits, Sent = never, Heard = never> {
  model: Model<Traits, Sent, Heard>;
  el: HTMLElement;
}

/** What is an empty table before there is something to tell. */
export type OrEmpty<Table> = Table | { [Name in keyof Table]?: undefined };

/** A question to the kernel, and its answer with the same number. */
export type Heartbeat = { heartbeat: number };
export type Alive = { alive: number };

// ---- forms ----------------------------------------------------------------------------------------------------------

/** The widget of a form: its own traits, the answer as it is shown again, the answer as it is sent, further messages. */
export type Form<Own, Given, Answer, Further = never> = View<
  FormTraits<Given> & Own,
  Heartbeat | { answer: Answer } | Further,
  Alive
>;

export interface FormTraits<Given = unknown> {
  connection: string;
  chosen_units: Partial<UnitChoice>;
  kind: string;
  exercise: string;
  title: string;
  question: string;
  points: number;
  answer: OrEmpty<Given>;
  tries: number;
  said: OrEmpty<Said>;
  result: OrEmpty<Result>;
  problem: string;
}

/** Id and text of something to choose or to move. */
export type Pair = [string, string];

/** The widget of a form in which one answer is chosen; `Own` and `Further` as in `Form`. */
export type FormOfChoices<Own = unknown, Further = never> = Form<
  Own & { choices: Pair[] },
  { value: string },
  Choice,
  Further
>;
export type Choice = { value: string | null };

/** A number with its unit, as it was recorded and as it is written. */
export type Measured = [number, string];
export type Written = { text: string; unit: string | undefined };

export interface Said {
  number: number;
  kind: string;
  sentence: string;
}

export interface Result {
  points: number;
  max_points: number;
  needs_person: string;
  criteria: Criterion[];
  best: { points: number; criteria: Criterion[] } | null;
}

export interface Criterion {
  title: string;
  outcome: "met" | "not yet" | "missing" | "could not be judged";
  points: number;
  max_points: number;
  sentence: string;
}

/** What a kind of form brings: its elements, and the answer as it stands. */
export interface Work<Answer> {
  root: Element | null;
  /** What comes below the button and what was said, where there is anything. */
  after?: Element;
  value(): Answer;
}

/** A form as what all have in common sees it, what one sends, and the answer among that: null where there is none. */
export type AnyForm = View<FormTraits, object, Alive>;
export type SentBy<OfForm extends AnyForm> = Parameters<OfForm["model"]["send"]>[0];
export type AnswerOf<OfForm extends AnyForm> = [Extract<SentBy<OfForm>, { answer: unknown }>] extends [never]
  ? null
  : Extract<SentBy<OfForm>, { answer: unknown }>["answer"];

export type MakeWork<OfForm extends AnyForm> = (
  model: OfForm["model"],
  send: () => void,
  watch: KernelWatch,
) => Work<AnswerOf<OfForm>>;

/** The words of a form, and the message that its button sends. */
export interface Words<OfForm extends AnyForm = AnyForm> {
  press: string;
  underWay: string;
  notDone: string;
  heading(title: string): string;
  message(work: Work<AnswerOf<OfForm>>): SentBy<OfForm>;
  tries(count: number): string;
}

// ---- elements -------------------------------------------------------------------------------------------------------

export type Child = Node | string | null | undefined;

type Text = string | number | null | undefined;

/** Listeners by the name of their event; an element hears only what happened at itself or in an element within it. */
export type Listeners<At extends Element> = {
  [Name in keyof HTMLElementEventMap]?: (
    event: HTMLElementEventMap[Name] & { currentTarget: At; target: Element },
  ) => void;
};

/** Attributes by name. A state in words ("true", "false") is a text, and only a true switch may be true or false. */
export interface Attributes<At extends Element> {
  on?: Listeners<At>;

  checked?: boolean;
  hidden?: boolean;
  selected?: boolean;

  autocomplete?: "off";
  class?: string;
  download?: string;
  focusable?: string;
  for?: string;
  href?: string;
  id?: string;
  inputmode?: "decimal" | "numeric";
  max?: number;
  maxlength?: number;
  min?: number;
  name?: string;
  popover?: "auto";
  role?: string;
  rows?: number;
  scope?: "col" | "row";
  step?: number;
  tabindex?: number;
  type?: string;
  value?: Text;
  [aria: `aria-${string}`]: Text;
  [data: `data-${string}`]: Text;

  cx?: number;
  cy?: number;
  d?: string;
  dy?: string;
  fill?: string;
  "fill-rule"?: "evenodd";
  gradientUnits?: "userSpaceOnUse";
  height?: number;
  offset?: string;
  patternTransform?: string;
  patternUnits?: "userSpaceOnUse";
  r?: number;
  rx?: number;
  ry?: number;
  "text-anchor"?: string;
  transform?: string;
  viewBox?: string;
  visibility?: "hidden" | "visible";
  width?: number;
  x?: number;
  x1?: number;
  x2?: number;
  y?: number;
  y1?: number;
  y2?: number;
}

// ---- the bench ------------------------------------------------------------------------------------------------------

/** A control as the kernel describes it. */
export interface Control {
  name: string;
  label: string;
  kind: "press" | "choice" | "number";
  choices: string[];
  low: number;
  high: number;
  step: number;
  unit: string;
  /** Sizes of the steps with their words, fine before coarse. */
  turns: [number, string][];
  shows: string;
}

export interface Group {
  title: string;
  controls: Control[];
}

/** Where every control stands, by name: a number, or one of its choices. */
export type Settings = Record<string, number | string | null>;

/** A press, a value, or a turn by a step. */
export type Act = { control: string; value?: number | string | null } | { control: string; by: number };
export type SendAct = (act: Act) => void;
export type Updates = ((settings: Settings) => void)[];
