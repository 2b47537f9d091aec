// Sections of a page that open: each stays as this reader left it, one that a link leads into
// opens, and all of them stand open on paper.
"use strict";
const sections = [...document.querySelectorAll("details[data-section]")];
const keyOf = (section) => `section:${section.dataset.section}`;
const onPaper = matchMedia("print");
let openedForPaper = [];
let isFollowing = false;

// Storage may be refused: then sections open and close, and nothing is remembered.
function remembered(key) {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

function remember(key, isOpen) {
  try {
    if (isOpen) localStorage.setItem(key, "open");
    else localStorage.removeItem(key);
  } catch {
    // Nothing to be done.
  }
}

function follow() {
  const target =
    location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (!target) return;
  let isOpened = false;
  for (let at = target; at; at = at.parentElement) {
    if (at.tagName !== "DETAILS" || at.open) continue;
    at.open = isOpened = true;
  }
  if (isOpened || isFollowing) target.scrollIntoView();
}

function openForPaper() {
  openedForPaper = [...document.querySelectorAll("main details:not([open])")];
  for (const each of openedForPaper) each.open = true;
}

function closeAfterPaper() {
  for (const each of openedForPaper) each.open = false;
  openedForPaper = [];
}

for (const section of sections) {
  section.open = section.open || remembered(keyOf(section)) === "open";
  // By the reader's own hand only: what a link or the printer opened isn't what they chose.
  section.querySelector("summary").addEventListener("click", () => {
    remember(keyOf(section), !section.open);
  });
}
follow();
isFollowing = true;
addEventListener("hashchange", follow);
// A link to where the page stands already changes no hash.
document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href^='#']");
  if (link && link.hash === location.hash) follow();
});
onPaper.addEventListener("change", () => (onPaper.matches ? openForPaper() : closeAfterPaper()));
