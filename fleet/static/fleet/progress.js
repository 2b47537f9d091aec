// Long work says that it goes on: a form that takes its time tells so from the press of its button.
"use strict";
for (const form of document.querySelectorAll("form[data-progress]")) {
  form.addEventListener("submit", () => {
    const words = document.createElement("p");
    words.className = "note";
    words.setAttribute("role", "status");
    form.append(words);
    const began = Date.now();
    const tell = () => {
      words.textContent = `${form.dataset.progress} ${Math.round((Date.now() - began) / 1000)} s`;
    };
    tell();
    setInterval(tell, 1000);
  });
}
