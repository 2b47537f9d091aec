// The pad map by tap and by key. The selects stay in the form and are what is sent: without
// this script they are used as they are.
"use strict";
const CONDITIONS = ["sound", "cracked", "debonded", "swollen", "missing"];
const KEYS = { s: "sound", c: "cracked", d: "debonded", w: "swollen", m: "missing" };
const map = document.getElementById("pad-map");
const tapSets = document.getElementById("tap-sets");
const undoButton = document.getElementById("undo");
const lotForAll = document.getElementById("lot-for-all");
const pads = [...map.querySelectorAll(".pad-entry")].map(makePad);
const past = [];

function makePad(item) {
  const name = item.dataset.name;
  const pad = {
    name,
    condition: document.getElementById(`condition-${name}`),
    lot: document.getElementById(`lot-${name}`),
    button: document.createElement("button"),
  };
  pad.button.type = "button";
  pad.button.className = "pad-button";
  pad.button.addEventListener("click", () => tap(pad));
  pad.button.addEventListener("keydown", (event) => press(event, pad));
  for (const hidden of [pad.condition, pad.lot, item.querySelector("label")]) hidden.hidden = true;
  // Links from the list of errors come to the button; so do the words of what is wrong.
  pad.button.id = pad.condition.id;
  pad.condition.removeAttribute("id");
  const trouble = pad.condition.getAttribute("aria-describedby");
  if (trouble) pad.button.setAttribute("aria-describedby", trouble);
  item.prepend(pad.button);
  show(pad);
  return pad;
}

function show(pad) {
  const condition = pad.condition.value;
  const lot = pad.lot.value ? pad.lot.selectedOptions[0].textContent : "lot unknown";
  const name = document.createElement("b");
  name.textContent = pad.name;
  const word = document.createElement("span");
  word.className = "pad-word";
  word.textContent = condition || "not counted";
  const mark = document.createElement("span");
  mark.className = "pad-lot";
  const isKnown = condition ? condition !== "missing" : pad.lot.value;
  mark.textContent = isKnown ? lot : "";
  const shape = document.getElementById(`shape-${condition}`).content.cloneNode(true);
  pad.button.replaceChildren(name, " ", shape, " ", word, " ", mark);
  pad.button.dataset.condition = condition;
}

function change(changes) {
  past.push(changes.map(({ pad }) => [pad, pad.condition.value, pad.lot.value]));
  undoButton.disabled = false;
  for (const { pad, condition, lot } of changes) {
    if (condition !== undefined) pad.condition.value = condition;
    if (lot !== undefined) pad.lot.value = lot;
    show(pad);
  }
  tell();
}

function undo() {
  for (const [pad, condition, lot] of past.pop() ?? []) {
    pad.condition.value = condition;
    pad.lot.value = lot;
    show(pad);
  }
  undoButton.disabled = past.length === 0;
  tell();
}

function tell() {
  map.dispatchEvent(new Event("input", { bubbles: true }));
}

function tap(pad) {
  if (tapSets.value) {
    change([{ pad, lot: tapSets.value }]);
    return;
  }
  const next = (CONDITIONS.indexOf(pad.condition.value) + 1) % CONDITIONS.length;
  change([{ pad, condition: CONDITIONS[next] }]);
}

function press(event, pad) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const key = event.key.toLowerCase();
  const moves = {
    arrowdown: 1,
    arrowup: -1,
    arrowright: pads.length / 2,
    arrowleft: -pads.length / 2,
  };
  if (KEYS[key]) change([{ pad, condition: KEYS[key] }]);
  else if (key === "u") undo();
  else if (moves[key]) pads[pads.indexOf(pad) + moves[key]]?.button.focus();
  else return;
  event.preventDefault();
}

document.querySelector(".pad-tools").hidden = false;
map.classList.add("tapped");
undoButton.addEventListener("click", undo);
document.getElementById("all-sound").addEventListener("click", () => {
  change(pads.map((pad) => ({ pad, condition: "sound" })));
});
tapSets.addEventListener("change", () => {
  lotForAll.disabled = !tapSets.value;
});
lotForAll.addEventListener("click", () => {
  change(pads.map((pad) => ({ pad, lot: tapSets.value })));
});
