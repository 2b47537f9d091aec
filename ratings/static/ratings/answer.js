// Details of a unit that were closed again stay closed in the next answer. No figures are made
// here.
"use strict";
document.addEventListener(
  "toggle",
  (event) => {
    const told = event.target.querySelector?.(".unit-detail input[name=open]");
    if (told) told.disabled = !event.target.open;
  },
  true,
);
