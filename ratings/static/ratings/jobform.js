// What a chosen section fills in, and which groups are folded on a phone. No figures are made here.
"use strict";
const jobForm = document.getElementById("job-form");
const sections = document.getElementById("pile-section-names");
const PHONE = "(max-width: 47.99rem)";

// As people type a name: capitals, spaces and x for × are all one.
const asTyped = (name) => name.toLowerCase().replaceAll("×", "x").replaceAll(/\s/g, "");

function fillFigures(section) {
  const wanted = asTyped(section.value);
  const found = wanted && [...sections.options].find((each) => asTyped(each.value) === wanted);
  const row = section.id.replace(/-section$/, "");
  document.getElementById(`${row.replace("id_", "")}-figures`).open = !found;
  if (!found) return;
  section.value = found.value;
  for (const [name, value] of Object.entries(JSON.parse(found.dataset.fill))) {
    document.getElementById(`${row}-${name}`).value = value;
  }
}

// A soil is offered only where it fits the kind of layer; one chosen already stays to be seen.
function offerSoils(layer) {
  const kind = layer.querySelector(".of-kind select")?.value;
  for (const option of layer.querySelectorAll(".of-soil option[data-kinds]")) {
    const fits = !kind || option.dataset.kinds.split(" ").includes(kind);
    option.hidden = option.disabled = !fits && !option.selected;
  }
}

const offerAll = () => document.querySelectorAll(".layer").forEach(offerSoils);
offerAll();
document.body.addEventListener("htmx:afterSettle", offerAll);

jobForm.addEventListener("change", (event) => {
  if (event.target.matches(".of-kind select"))
    offerSoils(event.target.closest(".layer") ?? jobForm);
  if (event.target.matches("[list=pile-section-names]")) fillFigures(event.target);
  const summary = event.target.closest(".job-group")?.querySelector(".job-summary");
  if (summary) summary.textContent = "changed, not saved yet";
});

if (matchMedia(PHONE).matches) {
  const isSaved = jobForm.querySelector(".job-summary") !== null;
  const groups = [...jobForm.querySelectorAll(".job-group")];
  const isTroubled = groups.some((group) => "troubled" in group.dataset);
  groups.forEach((group, place) => {
    group.open = "troubled" in group.dataset || (!isSaved && !isTroubled && place === 0);
  });
}
