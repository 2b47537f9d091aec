// One unit to read, with no signal too: what was kept of it, and how old that is.
import { nameOf } from "./draft.js";
import { h, shape } from "./elements.js";
import { ledgerNow } from "./ledger.js";
import { kindWords } from "./units.js";
import { ageOf, capital, momentWords, ratedAgainWords } from "./words.js";

const DAY_MS = 24 * 60 * 60 * 1000;

// app: {pack}. Returns {root, title, update}.
export function readingScreen(app, id) {
  const root = h("div", { class: "reading" });
  let drawn = "";

  function update() {
    const unit = app.pack?.units.find((each) => each.id === id);
    const age = app.pack ? ledgerNow(app.pack) - Date.parse(app.pack.made_at) : 0;
    const state = JSON.stringify([unit, app.pack?.made_at, Math.floor(age / 60_000)]);
    if (state === drawn) return;
    drawn = state;
    root.replaceChildren(...(unit?.reading ? parts(app.pack, unit, age) : gone()));
  }

  update();
  return { root, title: "Unit", update };
}

function gone() {
  return [
    h("h1", { tabindex: "-1" }, "Unit"),
    h(
      "p",
      { class: "caution" },
      "This unit is not among what is kept here to read: fetch the units again with a signal.",
    ),
    h("p", {}, h("a", { class: "button", href: "#" }, "All units")),
  ];
}

function parts(pack, unit, age) {
  const { sure, figures, missing, findings } = unit.reading;
  const again = ratedAgainWords(pack, unit.id);
  return [
    h("h1", { tabindex: "-1" }, h("bdi", {}, unit.mark)),
    h(
      "p",
      { class: "faint" },
      [unit.hammer ? `On hammer ${unit.hammer}` : "On no hammer", unit.yard].join(" · "),
    ),
    h(
      "p",
      { class: age > DAY_MS ? "caution" : "note" },
      h("strong", {}, `Kept on this phone as of ${momentWords(pack.made_at)}, ${ageOf(age)}. `),
      age > DAY_MS
        ? "That is more than a day: fetch the units again before anything goes out on it."
        : "What was recorded since is not in it.",
    ),
    unit.out_of_service &&
      h(
        "p",
        { class: "caution" },
        h("strong", {}, "Out of service: "),
        `${unit.out_of_service} It must not go out, whatever its standing.`,
      ),
    again && h("p", { class: "caution" }, h("strong", {}, "Being rated again "), again),
    h("p", {}, shape(unit.standing.replace(" ", "-"))),
    sure && h("p", {}, sure),
    missing.length > 0 && h("p", { class: "caution" }, `It lacks ${missing.join(" and ")}.`),
    h(
      "dl",
      { class: "facts" },
      figures.map(([name, words], place) =>
        h("div", {}, h("dt", {}, name), h("dd", { class: place < 3 ? "big" : null }, words)),
      ),
    ),
    list("Findings open", findings, "None when this was kept."),
    list(
      "Due",
      unit.due.map((each) => capital(kindWords(each))),
      "Nothing.",
    ),
    h("h2", {}, "Pad map"),
    h(
      "div",
      { class: "pad-map" },
      ["A", "B"].map((side) => sideOf(pack, unit, side)),
    ),
    h("p", { class: "actions" }, links(pack, unit)),
  ].filter(Boolean);
}

function list(title, words, none) {
  const items = words.map((each) => h("li", {}, each));
  return h("div", {}, h("h2", {}, title), items.length ? h("ul", {}, items) : h("p", {}, none));
}

function sideOf(pack, unit, side) {
  const pads = unit.pads.filter((pad) => pad.side === side);
  return h(
    "div",
    {},
    h("h3", {}, `Side ${side}`),
    h(
      "ol",
      {},
      pads.map((pad) => padRow(pack, pad)),
    ),
  );
}

function padRow(pack, pad) {
  const mark = pack.lots.find((each) => each.id === pad.lot)?.mark;
  const unknown = pad.condition && pad.condition !== "missing" ? "lot unknown" : "";
  return h(
    "li",
    { class: `pad ${pad.condition || "uncounted"}` },
    h("b", {}, nameOf(pad)),
    shape(pad.condition || "uncounted"),
    h("span", { class: "pad-word" }, pad.condition || "not counted"),
    h("span", { class: "pad-lot" }, mark ?? unknown),
  );
}

function links(pack, unit) {
  const inspect =
    pack.user.may_record &&
    h("a", { class: "button main", href: `#inspect/${unit.id}` }, "Inspect");
  return [
    inspect,
    h("a", { class: "button", href: "#" }, "All units"),
    h("a", { class: "button", href: unit.url }, "Its page (with a signal)"),
  ].filter(Boolean);
}
