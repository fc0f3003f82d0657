// A part of a lesson hears its kernel however late the browser brings it up.
//
// anywidget holds back what the kernel says until a part's module is loaded. It gives up on that after two seconds; a
// browser that is busy for longer, as an old one is when a whole lesson appears at once, shows the part all the same,
// but the part would never hear a word again. Here the module is loaded, so nothing need be held back any more: the
// model gets its messages as ipywidgets' own models do.
//
// `_handle_comm_msg` is ipywidgets' own and the only name below a public line: no public call takes a message whole,
// with its state, buffers and echoes. tests/repository/test_library_seams.py says when it is gone. A front end that
// lacks any of this keeps anywidget's own way, and nothing here is waited for: the part appears in any case.

/**
 * @import { Model } from "../types.d.ts"
 *
 * @typedef {(this: OwnModel, message: unknown) => void} Handler
 * @typedef {{ comm?: { on_msg?(take: (message: unknown) => void): void }, _handle_comm_msg?: Handler }} OwnModel
 * @typedef {{ widget_manager?: { get_model?(id: string): Promise<OwnModel> } }} WithManager
 * @typedef {Model<{ connection: string }> & WithManager} LateModel
 */

/** @param {{ model: LateModel }} view */
export function hear({ model }) {
  takeMessages(model).catch((fault) => console.warn("Messages are left to anywidget.", fault));
}

/** @param {LateModel} model */
async function takeMessages(model) {
  const itself = await model.widget_manager?.get_model?.(model.get("connection"));
  const handle = plainHandler(itself);
  if (itself && handle) itself.comm?.on_msg?.((message) => handle.call(itself, message));
}

// The handler furthest from the model itself: ipywidgets' own, behind whatever anywidget put before it.
/** @param {OwnModel | undefined} itself */
function plainHandler(itself) {
  /** @type {Handler | null | undefined} */
  let found = null;
  for (let owner = itself; owner; owner = Object.getPrototypeOf(owner)) {
    if (Object.hasOwn(owner, "_handle_comm_msg")) found = owner._handle_comm_msg;
  }
  return found;
}
