// The units taken along: what is due first, what is out of service, what waits on the phone.
import { h, redraw, shape } from "./elements.js";
import { isPull } from "./pulldraft.js";
import { SENT, gravestWaiting, isUnsent } from "./items.js";
import { capital, clockWords, counted, momentWords, ratedAgainWords } from "./words.js";

const PLACES = { true: 0, false: 1 };

// app: {pack, isFetching, refresh(), drafts, items, search, newVersion}. Returns {root, title,
// update}.
export function unitScreen(app) {
  const age = h("p", { class: "age" });
  const notes = h("div", {});
  const list = h("ul", { class: "unit-list" });
  const tally = h("p", { class: "faint", role: "status" });
  const again = h(
    "button",
    { type: "button", class: "quiet", onclick: app.refresh },
    "Fetch again",
  );
  let drawn = "";
  const search = h("input", {
    id: "search",
    type: "search",
    autocomplete: "off",
    value: app.search,
    oninput: seek,
  });
  const root = h(
    "div",
    {},
    h("h1", { tabindex: "-1" }, "Units"),
    h("div", { class: "age-line" }, age, again),
    notes,
    h(
      "div",
      { class: "field" },
      h("label", { for: "search" }, "Find a unit by mark, hammer or yard"),
      search,
    ),
    tally,
    list,
  );

  function seek() {
    app.search = search.value;
    drawList();
  }

  function drawList() {
    // Drawn again only where it differs, so that no tap falls between two drawings.
    const state = JSON.stringify([
      app.pack?.units,
      app.pack?.commitments,
      app.pack?.rated_again,
      app.pack?.user,
      app.search,
      app.drafts.map((each) => each.id),
      app.items.map((each) => [each.id, each.state]),
      app.isFetching && !app.pack,
      new Date().getDate(),
    ]);
    if (state === drawn) return;
    drawn = state;
    const units = app.pack
      ? inOrder(app.pack.units.filter((unit) => isFound(unit, app.search)))
      : [];
    redraw(
      list,
      units.map((unit) => card(app, unit)),
    );
    const overdue = units.filter((unit) => unit.due.some((each) => each.overdue)).length;
    tally.textContent = units.length
      ? `${counted(units.length, "unit")}, ${overdue || "none"} overdue`
      : "";
    list.hidden = units.length === 0;
    if (units.length === 0) tally.textContent = emptyWords(app);
  }

  function update() {
    age.textContent = ageWords(app);
    again.disabled = app.isFetching;
    notes.replaceChildren(...notesOf(app));
    drawList();
  }

  update();
  return { root, title: "Units", update };
}

function ageWords(app) {
  if (app.isFetching) return "Fetching the units…";
  return app.pack ? `As of ${momentWords(app.pack.made_at)}` : "Nothing taken along yet";
}

function emptyWords({ pack, search, isFetching }) {
  if (isFetching && !pack) return "";
  if (!pack)
    return (
      "Nothing is on this phone yet: sign in while there " +
      "is signal, and the yard’s units come along."
    );
  if (search.trim())
    return (
      `No unit has “${search.trim().slice(0, 40)}” in ` +
      "its mark, hammer or yard: write less of it."
    );
  return "The yard has no units yet: enter its housings in the set-up, then fetch again.";
}

function notesOf(app) {
  const others = othersWords(app);
  const newer = app.newVersion && [
    h("p", {}, "A newer version of this page is ready."),
    h("p", {}, h("button", { type: "button", onclick: app.takeNewVersion }, "Use it now")),
  ];
  return [
    newer && h("div", { class: "note" }, newer),
    app.isFull &&
      h(
        "p",
        { class: "caution" },
        "This phone has no room for the units as they " +
          "are now: free some room on it, then fetch again.",
      ),
    app.pack && clockWords(app.pack) && h("p", { class: "caution" }, clockWords(app.pack)),
    others && h("p", { class: "note" }, others),
    app.pack &&
      !app.pack.user.may_record &&
      h("p", { class: "note" }, "You may read here and not sign: an equipment manager may."),
  ].filter(Boolean);
}

// What another person left on this phone is theirs, and not lost.
function othersWords({ pack, drafts, items }) {
  const left = {};
  const tell = (each, what) => {
    if (each.user === pack?.user.id) return;
    left[each.user_name] ??= { drafts: 0, items: 0 };
    left[each.user_name][what] += 1;
  };
  drafts.forEach((draft) => tell(draft, "drafts"));
  items.filter(isUnsent).forEach((item) => tell(item, "items"));
  const words = Object.entries(left).map(([name, each]) => {
    const parts = [
      each.items && counted(each.items, "unsent item"),
      each.drafts && counted(each.drafts, "draft"),
    ];
    return `${parts.filter(Boolean).join(" and ")} of ${name}`;
  });
  return words.length
    ? `Also on this phone: ${words.join("; ")}. ` +
        `They stay until ${Object.keys(left).join(", ")} signs in here.`
    : "";
}

function isFound(unit, search) {
  const sought = search.trim().toLowerCase();
  return [unit.mark, unit.hammer ?? "", unit.yard].some((words) =>
    words.toLowerCase().includes(sought),
  );
}

function inOrder(units) {
  const key = (unit) => {
    const first = unit.due
      .map((each) => `${PLACES[each.overdue]}${each.due_on ?? "9999"}`)
      .sort()[0];
    return `${first ?? "2"} ${unit.mark}`;
  };
  return [...units].sort((one, other) => key(one).localeCompare(key(other)));
}

function card(app, unit) {
  const draft = app.drafts.find(
    (each) => !isPull(each) && each.housing === unit.id && each.user === app.pack.user.id,
  );
  const again = ratedAgainWords(app.pack, unit.id);
  const signed = app.items.filter((item) => item.housing === unit.id && item.state !== SENT);
  return h(
    "li",
    { class: "unit-card" },
    h("h2", {}, h("a", { href: `#unit/${unit.id}` }, h("bdi", {}, unit.mark))),
    h(
      "p",
      { class: "faint" },
      [unit.hammer ? `On hammer ${unit.hammer}` : "On no hammer", unit.yard].join(" · "),
    ),
    unit.out_of_service &&
      h("p", { class: "error" }, h("strong", {}, "Out of service: "), unit.out_of_service),
    again && h("p", { class: "error" }, h("strong", {}, "Being rated again "), again),
    h("p", {}, unit.out_of_service && "By its figures: ", shape(unit.standing.replace(" ", "-"))),
    gravestWaiting(app.items, unit.id).map((finding) =>
      h(
        "p",
        { class: "error" },
        h("strong", {}, "Signed out of service here, not yet in the ledger: "),
        finding.text,
      ),
    ),
    dueWords(unit.due),
    signed.map((item) =>
      h("p", {}, `${capital(item.kind)} signed ${momentWords(item.signed_at)}, ${item.state}`),
    ),
    h(
      "a",
      { class: "button", href: `#inspect/${unit.id}` },
      draft
        ? `Go on with the draft of ${momentWords(draft.begun_at)}`
        : app.pack.user.may_record
          ? "Inspect"
          : "See its pads",
      h("span", { class: "visually-hidden" }, ` ${unit.mark}`),
    ),
    app.pack.user.may_plan && pullLinks(app, unit),
  );
}

// What the unit is committed to: each pile tried there is put on record, once a sheet may print.
function pullLinks(app, unit) {
  const made = (app.pack.commitments ?? []).filter(
    (each) => each.housing === unit.id && !each.is_not_yet,
  );
  return made.map((each) => {
    const isBegun = app.drafts.some(
      (draft) =>
        isPull(draft) && draft.commitment.id === each.id && draft.user === app.pack.user.id,
    );
    return h(
      "a",
      { class: "button", href: `#pull/${each.id}` },
      isBegun ? `Go on with the pull at ${each.site}` : `Record a pull at ${each.site}`,
    );
  });
}

export const kindWords = ({ kind, words }) => [kind, words].filter(Boolean).join(", ");

function dueWords(due) {
  const overdue = due.filter((each) => each.overdue);
  if (overdue.length > 0) {
    return h(
      "p",
      { class: "error" },
      h("strong", {}, "Overdue: "),
      overdue.map(kindWords).join("; "),
    );
  }
  // The ledger sends the most pressing first.
  return due[0] && h("p", {}, `Next: ${kindWords(due[0])}`);
}
