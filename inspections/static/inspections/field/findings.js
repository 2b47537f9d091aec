// Findings: how grave, what, who must act by when, and photos of it.
import { SEVERITIES, machineOf, newId } from "./draft.js";
import { h } from "./elements.js";
import { choices, field } from "./fields.js";
import { photoStrip } from "./photos.js";

// on: {changed, gone(finding), trouble}. Returns {root, fields(), add(item)}.
export function findingList(draft, people, on) {
  const cards = new Map();
  const place = h("div", {});
  const none = h(
    "p",
    { class: "faint" },
    "None yet. Anything wrong, worn or to be watched goes here.",
  );
  const more = h("button", { type: "button", onclick: () => add(null) }, "Add a finding");
  const root = h(
    "section",
    { "aria-labelledby": "findings-head" },
    h("h2", { id: "findings-head" }, "Findings"),
    none,
    place,
    h("p", { class: "actions" }, more),
    h(
      "datalist",
      { id: "people" },
      people.map((name) => h("option", { value: name })),
    ),
  );
  for (const finding of draft.findings) enter(finding);
  count();

  function add(item) {
    const finding = {
      uid: newId(),
      item_key: item?.key ?? "",
      item_text: item?.text ?? "",
      severity: "",
      text: "",
      machine: "",
      act_by: "",
      who_acts: "",
    };
    draft.findings.push(finding);
    enter(finding).first.focus();
    count();
    on.changed();
  }

  function enter(finding) {
    const made = card(finding, draft, { ...on, remove: () => remove(finding) });
    cards.set(finding.uid, made);
    place.append(made.root);
    return made;
  }

  function remove(finding, isAsked = true) {
    if (isAsked && finding.text.trim() && !confirm("Remove this finding and its photos?")) return;
    draft.findings.splice(draft.findings.indexOf(finding), 1);
    cards.get(finding.uid).photos.clear();
    cards.get(finding.uid).root.remove();
    cards.delete(finding.uid);
    count();
    on.gone(finding);
    on.changed();
    more.focus();
  }

  // What was written stays as a finding by itself; one nobody wrote in goes.
  function unfound(item) {
    const finding = draft.findings.find((each) => each.item_key === item.key);
    if (!finding) return;
    if (finding.text.trim()) finding.item_key = "";
    else remove(finding, false);
  }

  function count() {
    none.hidden = draft.findings.length > 0;
    draft.findings.forEach((finding, number) => cards.get(finding.uid).name(number + 1));
  }

  const fields = () => Object.assign({}, ...[...cards.values()].map((each) => each.fields()));
  return { root, fields, add, unfound };
}

function card(finding, draft, on) {
  const keep = (name, made) => () => {
    finding[name] = made().control.value;
    made().show();
    on.changed();
  };
  const stop = h(
    "p",
    { class: "caution stop", hidden: finding.severity !== "stop" },
    "This takes the unit out of service as soon as it is " +
      "on record. Stop work and tell the crane operator now.",
  );
  const severity = choices(
    "How grave",
    Object.entries(SEVERITIES).map(([value, words]) => [value, words]),
    finding.severity,
    (value) => {
      finding.severity = value;
      stop.hidden = value !== "stop";
      severity.show();
      act();
      on.changed();
    },
    { class: "severity" },
  );
  const text = field(
    "What was found",
    h("textarea", { rows: 3, value: finding.text, oninput: written }),
  );
  const machines = draft.unit.machines ?? [];
  const machine = field(
    "At which machine",
    h(
      "select",
      { onchange: keep("machine", () => machine), value: machineOf(finding, draft) },
      machines.map(({ sort, mark }) => h("option", { value: sort }, `${sort} ${mark}`)),
    ),
  );
  machine.root.hidden = machines.length === 0;

  // Until somebody chooses, it goes by what is written.
  function written() {
    keep("text", () => text)();
    machine.control.value = machineOf(finding, draft);
  }

  const who = field(
    "Who must act",
    h("input", {
      type: "text",
      list: "people",
      autocomplete: "off",
      value: finding.who_acts,
      oninput: keep("who_acts", () => who),
    }),
  );
  const by = field(
    "Act by",
    h("input", { type: "date", value: finding.act_by, oninput: keep("act_by", () => by) }),
  );
  const photos = photoStrip(draft, finding.uid, on);
  const head = h("h3", {});
  const root = h(
    "div",
    { class: "finding" },
    head,
    finding.item_text && h("p", { class: "faint" }, finding.item_text),
    severity.root,
    stop,
    text.root,
    machine.root,
    h("div", { class: "pair" }, who.root, by.root),
    photos.root,
    h("button", { type: "button", class: "quiet", onclick: on.remove }, "Remove this finding"),
  );

  // To be watched needs nobody to act; the other two do.
  function act() {
    for (const each of [who, by])
      each.root.classList.toggle("needed", ["mend", "stop"].includes(finding.severity));
  }

  act();
  const at = (name) => `findings.${finding.uid}.${name}`;
  return {
    root,
    photos,
    first: severity.control,
    name: (number) => (head.textContent = `Finding ${number}`),
    fields: () => ({
      [at("severity")]: severity,
      [at("text")]: text,
      [at("machine")]: machine,
      [at("who_acts")]: who,
      [at("act_by")]: by,
      ...photos.fields(),
    }),
  };
}
