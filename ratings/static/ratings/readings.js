// More reading rows without a round trip. Without this script the button asks the server.
"use strict";
const ROWS_AT_ONCE = 4;
const more = document.getElementById("more-rows");
const rows = document.getElementById("reading-rows");
const blank = document.getElementById("reading-row");
const total = document.getElementById("id_r-TOTAL_FORMS");

function addRow() {
  const number = Number(total.value);
  const holder = document.createElement("tbody");
  holder.innerHTML = blank.innerHTML.replaceAll("__prefix__", String(number));
  holder.querySelector(".reading-number").textContent = String(number + 1);
  for (const label of holder.querySelectorAll("label")) {
    label.textContent = label.textContent.trimEnd() + " " + (number + 1);
  }
  rows.append(...holder.children);
  total.value = String(number + 1);
}

more.addEventListener("click", (event) => {
  event.preventDefault();
  const first = Number(total.value);
  for (let row = 0; row < ROWS_AT_ONCE; row += 1) addRow();
  document.getElementById(`id_r-${first}-tape_in`).focus();
});
