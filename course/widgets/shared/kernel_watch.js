// Whether the program behind a widget still answers. A page asks now and then; the answer echoes the number asked with.

/** @typedef {"answers" | "slow" | "silent"} KernelState */

const SLOW_AFTER_MS = 4000;
const SILENT_AFTER_MS = 20000;
const LOOKED_AT_EVERY_MS = 1000;

// "answers", "slow" or "silent": by how long the oldest question has waited for its answer.
/**
 * @param {number | null} waiting_ms
 * @returns {KernelState}
 */
export function kernelState(waiting_ms) {
  if (waiting_ms === null || waiting_ms < SLOW_AFTER_MS) return "answers";
  return waiting_ms < SILENT_AFTER_MS ? "slow" : "silent";
}

// What to tell the learner in each state, in a notebook or on a plain page.
/**
 * @param {KernelState} state
 * @param {boolean} plain
 */
export function kernelSentence(state, plain) {
  if (state === "answers") return "";
  if (state === "slow")
    return "The program behind this page is busy or slow. Wait a little: it goes on by itself, and nothing is lost.";
  return plain
    ? "The program behind this page does not answer. Load this page again; what you did is kept."
    : "The program behind this page does not answer. Open the menu Kernel, choose Restart Kernel and Run All Cells; what you did is kept.";
}

export class KernelWatch {
  // `ask(number)` sends a question; `show(state, sentence)` is called when the state changes.
  /**
   * @param {(number: number) => void} ask
   * @param {(state: KernelState, sentence: string) => void} show
   * @param {AbortSignal} gone
   */
  constructor(ask, show, gone) {
    this.ask = ask;
    this.show = show;
    this.number = 0;
    /** @type {Map<number, number>} */
    this.unanswered = new Map();
    this.gone = false; // the connection itself said so: only a new page or a new run mends it
    /** @type {KernelState} */
    this.state = "answers";
    const timer = setInterval(() => this.look(), LOOKED_AT_EVERY_MS);
    gone.addEventListener("abort", () => clearInterval(timer));
  }

  question() {
    this.number += 1;
    this.unanswered.set(this.number, performance.now());
    this.attempt(() => this.ask(this.number));
  }

  // Send something that wants an answer; the question right behind it tells when the kernel has dealt with it.
  /** @param {() => void} send */
  attemptAndAsk(send) {
    this.attempt(send);
    this.question();
  }

  // Send something; a connection that throws is a kernel that is gone.
  /** @param {() => void} send */
  attempt(send) {
    try {
      send();
    } catch {
      this.gone = true;
      this.turn("silent");
    }
  }

  // An answer settles every question up to its own: the kernel works through them in order.
  /** @param {number} number */
  answered(number) {
    for (const asked of this.unanswered.keys()) if (asked <= number) this.unanswered.delete(asked);
    this.look();
  }

  look() {
    if (this.gone) return;
    const oldest = this.unanswered.values().next().value ?? null;
    this.turn(kernelState(oldest === null ? null : performance.now() - oldest));
  }

  /** @param {KernelState} state */
  turn(state) {
    if (state === this.state) return;
    this.state = state;
    this.show(state, kernelSentence(state, document.body.classList.contains("plain-page")));
  }
}
