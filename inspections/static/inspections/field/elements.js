// Makes elements; text only ever goes in as text, so that no word typed can run as anything.
export function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false || name === "value") continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat(3).filter((child) => child || child === 0));
  // After its options are in, so that a select takes it.
  if (attributes.value !== undefined && attributes.value !== null) element.value = attributes.value;
  return element;
}

// A copy of a shape the page holds as a template: a pad's condition or a unit's standing.
export function shape(name) {
  const template = document.getElementById(`shape-${name}`);
  return template ? template.content.cloneNode(true) : "";
}

// Whether a press came from keys or a screen reader rather than a finger or a mouse.
export function isByKey(event) {
  return event.detail === 0;
}

// Puts new children in a list and leaves the focus at the control where it was.
export function redraw(list, children) {
  const controls = () => [...list.querySelectorAll("a, button, input")];
  const at = controls().indexOf(document.activeElement);
  list.replaceChildren(...children);
  if (at >= 0) (controls()[at] ?? controls().at(-1))?.focus();
}
