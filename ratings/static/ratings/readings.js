// Rows of readings and of pads without a round trip. Without this script buttons ask the server.
"use strict";
const ROWS_AT_ONCE = 4;
const MOST_PADS = 40;

/** The rows of one kind: their list, the template of a blank one, and how many there are. */
function rowsOf(list, template, prefix) {
  const rows = document.getElementById(list);
  const blank = document.getElementById(template);
  const total = document.getElementById(`id_${prefix}-TOTAL_FORMS`);
  return {
    count: () => Number(total.value),
    add() {
      const number = Number(total.value);
      const holder = document.createElement(rows.tagName);
      holder.innerHTML = blank.innerHTML.replaceAll("__prefix__", String(number));
      for (const place of holder.querySelectorAll(".row-number")) {
        place.textContent = String(number + 1);
      }
      rows.append(...holder.children);
      total.value = String(number + 1);
    },
    /** Take the last row away, unless something stands in it. */
    removeBlank() {
      const fields = [...rows.lastElementChild.querySelectorAll("input, select")];
      if (fields.some((field) => field.value !== "")) return false;
      rows.lastElementChild.remove();
      total.value = String(Number(total.value) - 1);
      return true;
    },
  };
}

const readings = rowsOf("reading-rows", "reading-row", "r");
document.getElementById("more-rows").addEventListener("click", (event) => {
  event.preventDefault();
  const first = readings.count();
  for (let row = 0; row < ROWS_AT_ONCE; row += 1) readings.add();
  document.getElementById("reading-rows").children[first].querySelector("input").focus();
});

// As many rows of pads as share the load; a whole unit has none here.
const pads = rowsOf("pad-rows", "pad-row", "p");
const shared = document.getElementById("id_pads_in_test");
function followShared() {
  const many = Number(shared.value);
  if (!Number.isInteger(many) || many < 1 || many > MOST_PADS) return;
  while (pads.count() < many) pads.add();
  while (pads.count() > many && pads.removeBlank());
}
if (shared !== null) {
  document.getElementById("ask-pad-rows").hidden = true;
  shared.addEventListener("input", followShared);
  followShared();
}

// Enter goes to the next reading and never sends the form: half a test is recorded by nobody's
// wish. More rows come at the last one.
const isFigure = (field) => field.matches("#reading-rows input:not([name$='-run'])");

document.querySelector("main form").addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.isComposing || !event.target.matches("input")) return;
  event.preventDefault();
  const fields = [...event.currentTarget.elements].filter(
    (field) => field.matches("input:not([type=hidden]), select") && field.offsetParent !== null,
  );
  const next = () => {
    const figures = [...document.querySelectorAll("#reading-rows input")].filter(isFigure);
    return isFigure(event.target)
      ? figures[figures.indexOf(event.target) + 1]
      : fields[fields.indexOf(event.target) + 1];
  };
  if (isFigure(event.target) && !next()) readings.add();
  next()?.focus();
});
