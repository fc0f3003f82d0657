// A part of a lesson hears its kernel however late the browser brings it up.
//
// anywidget holds back what the kernel says until a part's module is loaded. It gives up on that after two seconds; a
// browser that is busy for longer, as an old one is when a whole lesson appears at once, shows the part all the same,
// but the part would never hear a word again. Here the module is loaded, so nothing need be held back any more: the
// model gets its messages as ipywidgets' own models do.

export async function hear({ model }) {
  const itself = await model.widget_manager.get_model(model.get("connection"));
  const plainModel = Object.getPrototypeOf(Object.getPrototypeOf(itself)); // past anywidget's own model
  itself.comm?.on_msg((message) => plainModel._handle_comm_msg.call(itself, message));
}
