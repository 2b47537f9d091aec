// The pad map: a pad is chosen, one of five large buttons says what is in it, and the next pad is
// chosen. Buttons throughout, so keys and screen readers reach all of it.
import { CONDITIONS, countedPads, isUnsound, nameOf } from "./draft.js";
import { h, isByKey, shape } from "./elements.js";

const KEYS = { s: "sound", c: "cracked", d: "debonded", w: "swollen", m: "missing" };

// changed: called after each change. Returns {root, control, show(words)}.
export function padMap(draft, lots, hand, changed) {
  const names = draft.unit.pads.map(nameOf);
  const past = [];
  let chosen = names[0];

  const buttons = Object.fromEntries(names.map((name) => [name, padButton(name)]));
  const setters = CONDITIONS.map((condition) =>
    h(
      "button",
      { type: "button", "data-condition": condition, onclick: (event) => set(condition, event) },
      shape(condition),
      condition,
    ),
  );
  const strip = h("div", { role: "group", class: "pad-setters" }, setters);
  const undoButton = h("button", { type: "button", class: "undo", onclick: undo }, "Undo");
  const stripName = h("p", { class: "strip-name", "aria-hidden": "true" });
  const lot = h("select", { onchange: () => setLots([chosen]) }, lotOptions(lots));
  const lotForAll = h(
    "button",
    { type: "button", onclick: () => setLots(names) },
    "That lot for all",
  );
  const clear = h(
    "button",
    { type: "button", class: "quiet", onclick: () => setAll("") },
    "Clear the count",
  );
  const trouble = h("div", { class: "field-error" });
  const root = h(
    "section",
    { class: "pads", "aria-labelledby": "pads-head" },
    h("h2", { id: "pads-head" }, "Pads"),
    trouble,
    h(
      "div",
      { class: "pad-work" },
      h(
        "div",
        { class: "pad-side-by-side" },
        ["A", "B"].map((side) =>
          h(
            "div",
            { role: "group", "aria-label": `Side ${side}` },
            h("h3", {}, `Side ${side}`),
            names.filter((name) => name.startsWith(side)).map((name) => buttons[name]),
          ),
        ),
      ),
      h(
        "div",
        { class: "pad-strip" },
        h(
          "button",
          { type: "button", class: "main all-sound", onclick: othersSound },
          "All others sound",
        ),
        stripName,
        strip,
        undoButton,
      ),
    ),
    h(
      "div",
      { class: "pad-lots" },
      h("label", {}, h("span", { class: "lot-of" }), lot),
      lotForAll,
      clear,
    ),
    h("button", { type: "button", class: "quiet hand", onclick: hand.turn }, hand.words()),
    h("p", { class: "help keys" }, "Keys: arrows move; ", keyWords(), "."),
  );

  function padButton(name) {
    const button = h("button", {
      type: "button",
      class: "pad-button",
      "data-pad": name,
      onclick: (event) => choose(name, event),
    });
    button.addEventListener("keydown", (event) => press(event, name));
    return button;
  }

  function choose(name, event) {
    chosen = name;
    draw();
    // By keys the strip comes next; a thumb finds it by itself.
    if (event && isByKey(event))
      setters[Math.max(0, CONDITIONS.indexOf(draft.pads[name].condition))].focus();
  }

  function set(condition, event) {
    const name = chosen;
    change([name], (pad) => (pad.condition = condition));
    choose(names[Math.min(names.indexOf(name) + 1, names.length - 1)]);
    if (event && isByKey(event)) buttons[chosen].focus();
  }

  // Of those nobody has said anything of; one found unsound before is looked at by itself.
  function othersSound() {
    const open = draft.unit.pads.filter((pad) => !draft.pads[nameOf(pad)].condition);
    change(open.filter((pad) => !isUnsound(pad)).map(nameOf), (pad) => (pad.condition = "sound"));
    choose(names.find((name) => !draft.pads[name].condition) ?? names[0]);
  }

  function setAll(condition) {
    change(names, (pad) => (pad.condition = condition));
    choose(names[0]);
  }

  function setLots(which) {
    const id = lot.value ? Number(lot.value) : null;
    change(which, (pad) => (pad.lot = id));
    draw();
  }

  function change(which, act) {
    past.push([chosen, which.map((name) => [name, { ...draft.pads[name] }])]);
    for (const name of which) act(draft.pads[name]);
    changed();
  }

  function undo() {
    const [was, pads] = past.pop() ?? [chosen, []];
    for (const [name, pad] of pads) draft.pads[name] = pad;
    changed();
    choose(was);
  }

  function press(event, name) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const key = event.key.toLowerCase();
    const half = names.length / 2;
    const moves = { arrowdown: 1, arrowup: -1, arrowright: half, arrowleft: -half };
    const at = names[names.indexOf(name) + moves[key]];
    if (KEYS[key]) {
      chosen = name;
      set(KEYS[key]);
    } else if (key === "u") undo();
    else if (moves[key] && at) choose(at);
    else if (!moves[key]) return;
    event.preventDefault();
    buttons[chosen].focus();
  }

  function draw() {
    for (const name of names) drawPad(name);
    const pad = draft.pads[chosen];
    stripName.textContent = chosen;
    strip.setAttribute("aria-label", `What is in ${chosen}`);
    for (const each of setters)
      each.setAttribute("aria-pressed", String(each.dataset.condition === pad.condition));
    root.querySelector(".lot-of").textContent = `Lot of ${chosen}`;
    lot.value = pad.lot === null ? "" : String(pad.lot);
    lot.disabled = pad.condition === "missing";
    lotForAll.disabled = lot.disabled;
    undoButton.disabled = past.length === 0;
    clear.disabled = countedPads(draft) === 0;
  }

  function drawPad(name) {
    const { condition, lot: id } = draft.pads[name];
    const button = buttons[name];
    const mark = lots.find((each) => each.id === id)?.mark ?? "lot unknown";
    const known = draft.unit.pads[names.indexOf(name)];
    const was = isUnsound(known) ? known.condition : known.was;
    button.replaceChildren(
      h("b", {}, name),
      shape(condition || "uncounted"),
      h("span", { class: "pad-lot" }, condition === "missing" ? "" : mark),
      was && h("span", { class: "pad-was" }, `was ${was}`),
      h("span", { class: "pad-word" }, condition || "not counted"),
    );
    button.dataset.condition = condition;
    button.classList.toggle("chosen", name === chosen);
    button.setAttribute("aria-current", String(name === chosen));
    button.tabIndex = name === chosen ? 0 : -1;
  }

  function show(words = []) {
    root.classList.toggle("bad", words.length > 0);
    trouble.replaceChildren(...words.map((each) => h("p", { class: "error" }, each)));
    const open = names.find((name) => !draft.pads[name].condition);
    if (words.length > 0 && open) choose(open);
  }

  draw();
  return {
    root,
    show,
    get control() {
      return buttons[chosen];
    },
  };
}

function lotOptions(lots) {
  const marks = lots.map((lot) =>
    h(
      "option",
      { value: String(lot.id) },
      lot.rate_lbf_in === null ? `${lot.mark} (unrated)` : lot.mark,
    ),
  );
  return [h("option", { value: "" }, "lot unknown"), marks];
}

function keyWords() {
  const given = Object.entries(KEYS).map(([key, word]) => [h("kbd", {}, key), ` ${word}, `]);
  return [given, h("kbd", {}, "u"), " undoes"];
}
