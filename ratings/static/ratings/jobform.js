// What a chosen section fills in, and which groups are folded on a phone. No figures are made here.
"use strict";
const jobForm = document.getElementById("job-form");
const section = document.getElementById("id_section");
const figures = document.getElementById("pile-figures");
const PHONE = "(max-width: 47.99rem)";

section.addEventListener("change", () => {
  const fill = section.selectedOptions[0]?.dataset.fill;
  figures.open = !fill;
  if (!fill) return;
  for (const [name, value] of Object.entries(JSON.parse(fill))) {
    document.getElementById(`id_${name}`).value = value;
  }
});

jobForm.addEventListener("change", (event) => {
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
