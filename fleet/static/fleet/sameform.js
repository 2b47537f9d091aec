// A form come back to by the browser's back button is the form that was left, even where the
// page is fetched again: it keeps the id it was sent under and the state it was based on, so
// that signing it again is known for a second copy, and old choices never pass for fresh ones.
"use strict";
const FORM_KEEPS = ["submission_id", "based_on", "version"];
const hiddenInputs = FORM_KEEPS.map((name) =>
  document.querySelector(`main form input[name=${name}]`),
).filter(Boolean);

if (hiddenInputs.length > 0) {
  const cameBack = performance.getEntriesByType("navigation")[0]?.type === "back_forward";
  const kept = cameBack ? (history.state?.form ?? {}) : {};
  for (const input of hiddenInputs) input.value = kept[input.name] ?? input.value;
  const form = Object.fromEntries(hiddenInputs.map((input) => [input.name, input.value]));
  history.replaceState({ ...history.state, form }, "");
}
