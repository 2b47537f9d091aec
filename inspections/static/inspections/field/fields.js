// Labelled controls, each with a place of its own for what is wrong with it.
import { h } from "./elements.js";

let made = 0;

// control: made by the caller. Returns {root, control, show(words)}.
export function field(label, control, { optional = false, help = "", unit = "" } = {}) {
  const id = `field-${++made}`;
  control.id = id;
  const trouble = h("div", { id: `${id}-error`, class: "field-error" });
  const helped = help && h("p", { class: "help", id: `${id}-help` }, help);
  const described = [helped && `${id}-help`, `${id}-error`].filter(Boolean).join(" ");
  control.setAttribute("aria-describedby", described);
  const root = h(
    "div",
    { class: "field" },
    h(
      "label",
      { for: id },
      unit ? `${label}, ${unit}` : label,
      optional && h("span", { class: "optional" }, " (optional)"),
    ),
    control,
    helped,
    trouble,
  );
  return { root, control, show: (words) => showWords(root, control, trouble, words) };
}

// A group of choices as large buttons; one is pressed at a time. choices: [[value, ...content]].
export function choices(label, given, value, choose, attributes = {}) {
  const trouble = h("div", { class: "field-error", id: `field-${++made}-error` });
  const buttons = given.map(([each, ...content]) =>
    h(
      "button",
      {
        type: "button",
        "aria-pressed": String(each === value),
        "data-value": each,
        onclick: () => pick(each),
      },
      content,
    ),
  );
  const group = h(
    "div",
    { role: "group", "aria-label": label, "aria-describedby": trouble.id, class: "choices" },
    buttons,
  );
  const root = h("div", attributes, group, trouble);
  const mark = (picked) => {
    for (const button of buttons)
      button.setAttribute("aria-pressed", String(button.dataset.value === picked));
  };
  const pick = (picked) => {
    mark(picked);
    choose(picked);
  };
  return {
    root,
    mark,
    control: buttons[0],
    show: (words) => showWords(root, null, trouble, words),
  };
}

function showWords(root, control, trouble, words = []) {
  root.classList.toggle("bad", words.length > 0);
  if (words.length > 0) control?.setAttribute("aria-invalid", "true");
  else control?.removeAttribute("aria-invalid");
  trouble.replaceChildren(...words.map((each) => h("p", { class: "error" }, each)));
}
