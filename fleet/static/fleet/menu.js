// The menu opens without this. Escape closes it and gives the keyboard back to its button; so does
// a tap beside it.
"use strict";
const menu = document.querySelector(".site-menu");
if (menu) {
  menu.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !menu.open) return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });
  addEventListener("click", (event) => {
    if (!menu.contains(event.target)) menu.open = false;
  });
}
