// The list above the form of what is to be corrected; each line leads to its field.
import { h } from "./elements.js";

// fields(): {name: {control, show(words)}}. Returns {root, show(errors, isFromLedger),
// corrected(errors)}.
export function troubleList(fields) {
  const list = h("ul", {});
  const root = h(
    "div",
    { class: "errors", role: "alert", tabindex: "-1", hidden: true },
    h("p", {}, h("strong", {}, "Not signed yet."), " Please correct:"),
    list,
  );
  let shown = {};
  let isLedgers = false;

  function show(errors, isFromLedger = false) {
    shown = errors;
    isLedgers = isFromLedger;
    for (const [name, each] of Object.entries(fields())) each.show(errors[name]);
    draw();
    root.hidden = false;
    root.focus();
    root.scrollIntoView({ block: "start" });
  }

  // What is corrected goes from the list; what the ledger refused stays until it is asked again.
  function corrected(errors) {
    if (root.hidden || isLedgers) return;
    shown = Object.fromEntries(Object.entries(shown).filter(([name]) => errors[name]));
    root.hidden = Object.keys(shown).length === 0;
    draw();
  }

  function draw() {
    const places = fields();
    list.replaceChildren(
      ...Object.entries(shown).flatMap(([name, words]) =>
        words.map((each) => row(places[name], each)),
      ),
    );
  }

  return { root, show, corrected };
}

function row(at, words) {
  if (!at) return h("li", {}, words);
  const go = () => {
    at.control.focus();
    at.control.scrollIntoView({ block: "center" });
  };
  return h("li", {}, h("button", { type: "button", class: "link", onclick: go }, words));
}
