// The list of a kind: each item done, not applicable with a reason, or a finding.
import { DONE, FINDING, NOT_APPLICABLE, contradicted, isEntered, needOf } from "./draft.js";
import { h } from "./elements.js";
import { choices, field } from "./fields.js";

const STATES = [
  [DONE, "Done"],
  [NOT_APPLICABLE, "Not applicable"],
  [FINDING, "Finding"],
];

// on: {changed, found(item), unfound(item)}. Returns {root, fields, unanswer(key), refresh()}.
export function checklist(draft, on) {
  const rows = Object.fromEntries(draft.list.items.map((item) => [item.key, row(item)]));
  const trouble = h("div", { class: "field-error" });
  const allDone = h("button", { type: "button", onclick: finish }, "All others done");
  const parts = [...new Set(draft.list.items.map((item) => item.part))];
  const root = h(
    "section",
    { class: "checklist", hidden: draft.list.items.length === 0, "aria-labelledby": "list-head" },
    h("h2", { id: "list-head" }, "Checklist"),
    trouble,
    h("p", { class: "actions" }, allDone),
    parts.map((part) => [
      h("h3", {}, part),
      draft.list.items.filter((item) => item.part === part).map((item) => rows[item.key].root),
    ]),
  );

  // What is entered answers it: nobody ticks it.
  function knownRow(item) {
    const answer = h("p", { class: "item-known", role: "status" });
    const shell = h(
      "div",
      { class: "item", role: "group", "aria-label": item.text },
      h("p", { class: "item-text" }, item.text),
      answer,
    );
    const refresh = () => {
      const isSo = isEntered(draft, needOf(item));
      answer.textContent = isSo
        ? "Done, by what is entered above."
        : "Not so: nothing above says it was done.";
      answer.classList.toggle("not-so", !isSo);
    };
    refresh();
    const silent = { root: h("div", { hidden: true }), show() {} };
    return { root: shell, refresh, states: { mark() {}, control: shell }, reason: silent };
  }

  function row(item) {
    if (needOf(item)) return knownRow(item);
    const answer = draft.answers[item.key] ?? {};
    const reason = field(
      "Why it does not apply",
      h("input", { type: "text", value: answer.reason ?? "", oninput: typed }),
    );
    const states = choices(item.text, STATES, answer.state, choose);
    const shell = h(
      "div",
      { class: "item", role: "group", "aria-label": item.text },
      h("p", { class: "item-text" }, item.text),
      states.root,
      reason.root,
    );
    reason.root.hidden = answer.state !== NOT_APPLICABLE;

    function typed() {
      draft.answers[item.key].reason = reason.control.value;
      reason.show();
      on.changed();
    }

    function choose(state) {
      const before = draft.answers[item.key]?.state;
      draft.answers[item.key] = { reason: "", ...draft.answers[item.key], state };
      reason.root.hidden = state !== NOT_APPLICABLE;
      if (before === FINDING && state !== FINDING) on.unfound(item);
      if (state === FINDING && before !== FINDING) on.found(item);
      if (state === NOT_APPLICABLE) reason.control.focus();
      show();
      on.changed();
    }

    return { root: shell, states, reason };
  }

  function finish() {
    for (const item of draft.list.items) {
      if (needOf(item) || draft.answers[item.key]?.state || contradicted(draft, item)) continue;
      draft.answers[item.key] = { state: DONE, reason: "" };
      rows[item.key].states.mark(DONE);
    }
    show();
    on.changed();
  }

  function unanswer(key) {
    delete draft.answers[key];
    rows[key]?.states.mark("");
  }

  function show(words = []) {
    trouble.replaceChildren(...words.map((each) => h("p", { class: "error" }, each)));
  }

  const fields = Object.fromEntries(
    Object.entries(rows).map(([key, each]) => [
      `answers.${key}`,
      {
        get control() {
          return each.reason.root.hidden ? each.states.control : each.reason.control;
        },
        show: (words) => each.reason.show(words),
      },
    ]),
  );
  const first = () =>
    draft.list.items.find((item) => !needOf(item) && !draft.answers[item.key]?.state);
  fields.answers = {
    get control() {
      return rows[first()?.key]?.states.control ?? allDone;
    },
    show,
  };
  const refresh = () => Object.values(rows).forEach((each) => each.refresh?.());
  return { root, fields, unanswer, refresh };
}
