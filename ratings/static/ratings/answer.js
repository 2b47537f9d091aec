// The answer beside a job's form: asked again as numbers are typed, but not twice for the same
// numbers; what changed is told once typing rests, against what was shown before it began.
// Details of a unit that were closed again stay closed in the next answer. No figures are made
// here.
"use strict";
const RESTS_MS = 900;
const NOT_NUMBERS = ["csrfmiddlewaretoken", "submission_id", "shown", "open", "page"];
const asking = document.getElementById("job-form");
const place = document.getElementById("answer");
const told = document.getElementById("answer-news");
let asked = "";
let shownBefore = null;
let news = null;
let resting = 0;

const numbers = () =>
  JSON.stringify([...new FormData(asking)].filter(([name]) => !NOT_NUMBERS.includes(name)));
const shown = () => place.querySelector("input[name=shown]")?.value ?? "";

function rest() {
  resting = 0;
  shownBefore = null;
  if (news !== null) told.textContent = news;
  news = null;
}

asking.addEventListener("input", () => {
  if (!resting) shownBefore = shown();
  clearTimeout(resting);
  resting = setTimeout(rest, RESTS_MS);
});

place.addEventListener("htmx:confirm", (event) => {
  if (event.target !== place) return;
  const now = numbers();
  if (now === asked && event.detail.triggeringEvent?.type === "change") {
    event.preventDefault();
    return;
  }
  asked = now;
});

place.addEventListener("htmx:configRequest", (event) => {
  if (event.target === place && shownBefore !== null) event.detail.parameters.shown = shownBefore;
});

for (const trouble of ["htmx:sendError", "htmx:responseError"]) {
  place.addEventListener(trouble, () => {
    asked = "";
  });
}

document.addEventListener("htmx:oobBeforeSwap", (event) => {
  if (event.detail.target !== told || !resting) return;
  news = event.detail.fragment.textContent;
  event.detail.shouldSwap = false;
});

document.addEventListener(
  "toggle",
  (event) => {
    const opened = event.target.querySelector?.(".unit-detail input[name=open]");
    if (opened) opened.disabled = !event.target.open;
  },
  true,
);
