// The words of a lesson: a list to open, and a word's meaning beside the place where the lesson uses it.
//
// A lesson's first use of a word is a link to #word-…; this card answers it wherever on the page it stands.

import { element, freshId, HANDS_OFF, pushButton } from "../shared/elements.js";

/**
 * @import { View } from "../types.d.ts"
 *
 * @typedef {object} Word
 * @property {string} anchor
 * @property {string} term
 * @property {string} meaning
 * @property {string} symbol
 * @property {string} unit
 * @property {boolean} here
 *
 * @typedef {View<{ title: string, words: Word[], problem: string }>} WordsCard
 */

const WORD_LINK = 'a[href^="#word-"]';
const FROM_EDGE = 8;

/** @param {WordsCard} view */
function render({ model, el }) {
  const words = model.get("words");
  const bubble = meaningBubble();
  el.replaceChildren(wordsCard(model, words));
  return answerLinks(words, bubble);
}

/**
 * @param {WordsCard["model"]} model
 * @param {Word[]} words
 */
function wordsCard(model, words) {
  const id = freshId("wc-title");
  const listed = words.filter((word) => word.here);
  const problem = model.get("problem");
  return element(
    "section",
    { class: "course-form course-words", "aria-labelledby": id },
    element("div", { class: "cf-heading", id }, model.get("title")),
    problem ? element("p", { class: "cf-problem" }, problem) : howTo(),
    problem ? null : wordList(listed),
  );
}

function howTo() {
  return element(
    "p",
    {},
    "A word with a dotted line under it has its meaning behind it: press it, or go to it with the Tab key and press Enter. The Escape key closes the meaning again.",
  );
}

/** @param {Word[]} listed */
function wordList(listed) {
  return element(
    "details",
    {},
    element("summary", HANDS_OFF, `All ${listed.length} words in one list`),
    element("dl", { class: "wc-list" }, ...listed.flatMap((word) => [named(word), told(word)])),
  );
}

/** @param {Word} word */
function named(word) {
  return element("dt", {}, word.term);
}

/** @param {Word} word */
function told(word) {
  const extras = [word.symbol && `Symbol: ${word.symbol}`, word.unit && `Unit: ${word.unit}`].filter(Boolean);
  return element(
    "dd",
    {},
    word.meaning,
    extras.length ? element("div", { class: "wc-unit" }, extras.join(" · ")) : null,
  );
}

// The bubble hangs on the page itself: a notebook may take the cells that are out of sight off the page.
function meaningBubble() {
  return element("div", {
    class: "course-form wc-bubble",
    popover: "auto",
    role: "dialog",
    tabindex: -1,
    ...HANDS_OFF,
  });
}

/**
 * @param {HTMLElement} bubble
 * @param {Word} word
 * @param {Element} link
 */
function showMeaning(bubble, word, link) {
  const id = freshId("wc-word");
  const title = named(word);
  title.id = id;
  bubble.setAttribute("aria-labelledby", id);
  bubble.replaceChildren(
    element("dl", {}, title, told(word)),
    pushButton("Close", () => bubble.hidePopover()),
  );
  document.body.append(bubble);
  bubble.showPopover();
  putBeside(bubble, link);
  bubble.focus({ preventScroll: true });
}

/**
 * @param {HTMLElement} bubble
 * @param {Element} link
 */
function putBeside(bubble, link) {
  const [line] = link.getClientRects();
  const { width, height } = bubble.getBoundingClientRect();
  const below = line.bottom + FROM_EDGE;
  const fits = below + height + FROM_EDGE <= window.innerHeight;
  const top = fits ? below : line.top - height - FROM_EDGE;
  const left = Math.min(line.left, window.innerWidth - width - FROM_EDGE);
  const wordIsAbove = line.bottom < 0;
  bubble.style.top = `${wordIsAbove ? top : Math.max(FROM_EDGE, top)}px`;
  bubble.style.left = `${Math.max(FROM_EDGE, left)}px`;
}

// The page may move under the bubble: a notebook scrolls to what has the keys, draws its texts again, and takes those
// out of sight off the page. The bubble goes with its word and comes back with it, and only the person closes it.
/**
 * @param {HTMLElement} bubble
 * @param {Element} link
 */
function stayBeside(bubble, link) {
  const drawn = link.isConnected ? link : document.querySelector(`a[href="${link.getAttribute("href")}"]`);
  if (drawn?.getClientRects().length) putBeside(bubble, drawn);
}

/**
 * @param {Word[]} words
 * @param {HTMLElement} bubble
 */
function answerLinks(words, bubble) {
  const known = new Map(words.map((word) => [`#${word.anchor}`, word]));
  const wordAt = (/** @type {Event} */ event) => {
    const link = event.target instanceof Element ? event.target.closest(WORD_LINK) : null;
    return { link, word: link && known.get(link.getAttribute("href") ?? "") };
  };
  const leave = new AbortController();
  /** @type {Element | null} */
  let open = null;
  /** @type {(name: string, act: (event: Event) => void) => void} */
  const listen = (name, act) => document.addEventListener(name, act, { capture: true, signal: leave.signal });
  listen("click", (event) => {
    const { link, word } = wordAt(event);
    if (!link || !word || event.defaultPrevented) return;
    event.preventDefault();
    event.stopPropagation();
    showMeaning(bubble, word, link);
    open = link;
  });
  // Enter on a link opens it; without this mark the notebook would take the key and edit the text.
  listen("focusin", (event) => {
    const { link, word } = wordAt(event);
    if (link && word) for (const [name, value] of Object.entries(HANDS_OFF)) link.setAttribute(name, value);
  });
  listen("scroll", (event) => {
    if (open && bubble.matches(":popover-open") && !bubble.contains(/** @type {Node} */ (event.target)))
      stayBeside(bubble, open);
  });
  return () => {
    leave.abort();
    bubble.remove();
  };
}

export default { render };
