// The inspection of a unit: everything that is entered of it, kept as it is typed, then signed.
import { check } from "./checks.js";
import { checklist } from "./checklist.js";
import {
  countedPads,
  isBeyondDesign,
  isEmpty,
  isOld,
  lacking,
  nameOf,
  saidSoundAgain,
  setKind,
  bounds,
} from "./draft.js";
import { h } from "./elements.js";
import { field } from "./fields.js";
import { figureOf } from "./figure.js";
import { findingList } from "./findings.js";
import { WAITING, gravestWaiting, unsentOf } from "./items.js";
import { fullWords, keeper } from "./keeper.js";
import { padMap } from "./padmap.js";
import { fieldsOf, payloadOf } from "./payload.js";
import { photoStrip } from "./photos.js";
import { lengthUnit, lengthWords, plainNumber, readNumber } from "./quantities.js";
import { ledgerNow } from "./ledger.js";
import { enterSigned, signButtonOf } from "./signing.js";
import { drop } from "./store.js";
import { troubleList } from "./troubles.js";
import { capital, clockWords, counted, momentWords, ratedAgainWords } from "./words.js";

// app: {pack, hand, signed(item), discard(draft)}. Returns {root, title, leave}.
export function inspectionScreen(app, draft) {
  const { unit } = draft;
  // As it was when the page was opened: a newer one changes nothing under a form.
  const { pack } = app;
  const rated = ratedAgainWords(pack, unit.id);
  const errors = fieldsOf(draft.errors ?? {}, draft);
  // The ledger may know of a pad found unsound that this phone does not.
  const isAskedWhySound = Boolean(errors.sound_again_reason || draft.sound_again_reason);
  const lead = h("strong", {});
  const small = h("span", { class: "figure-words" });
  const figure = h(
    "p",
    { class: "figure", "aria-live": "polite", "aria-atomic": "true" },
    lead,
    " ",
    small,
  );
  const troubles = troubleList(allFields);
  const full = h("div", { class: "errors full", role: "alert", hidden: true });
  const keep = keeper(draft, sayKept);
  const kind = field("Kind", kindSelect(pack, draft, changeKind));
  const typed = {
    seen_at: field("Seen at", input("seen_at", { type: "datetime-local" })),
    travel: field(
      "Travel, taped from rest to the stops",
      input("travel", { inputmode: "decimal" }),
      {
        optional: true,
        unit: lengthUnit(draft.system),
        help: travelHelp(draft),
      },
    ),
    travel_reason: field("Why the travel is beyond the design travel", input("travel_reason")),
    hours: field("Hour meter", input("hours", { inputmode: "decimal" }), {
      optional: true,
      help: hoursHelp(unit.hammer, unit.hours),
    }),
    pack_hours: field(
      "Hours of the power pack, by its meter",
      input("pack_hours", { inputmode: "decimal" }),
      { optional: true, help: hoursHelp(unit.power_pack, unit.pack_hours) },
    ),
    sound_again_reason: field("Why they are sound after all", input("sound_again_reason")),
    second_look_by: field(
      "Who else looks at them",
      h(
        "select",
        { onchange: () => type("second_look_by"), value: draft.second_look_by ?? "" },
        h("option", { value: "" }, "nobody yet"),
        (pack.lookers ?? []).map(({ id, name }) => h("option", { value: String(id) }, name)),
      ),
      { help: "Signs it on their own account, with a signal." },
    ),
    weather: field("Weather", input("weather"), { optional: true }),
    note: field(
      "Note",
      h("textarea", { rows: 3, value: draft.note, oninput: () => type("note") }),
      { optional: true },
    ),
  };
  const pads = padMap(draft, pack.lots, app.hand, () => {
    pads.show();
    changed();
  });
  const on = { changed, trouble: (trouble) => sayKept(fullWords(trouble)) };
  const againWords = h("p", {});
  const again = h(
    "div",
    { class: "caution sound-again", hidden: true },
    againWords,
    typed.sound_again_reason.root,
    typed.second_look_by.root,
  );
  const lacks = h("p", { class: "caution lacks", role: "status", hidden: true });
  const findings = findingList(draft, pack.people, {
    ...on,
    gone: (finding) => list.unanswer(finding.item_key),
  });
  const photos = photoStrip(draft, null, on);
  let list = makeList();
  const listPlace = h("div", {}, list.root);
  const signButton = signButtonOf(draft, sign);
  const root = h("div", { class: "inspection" }, content());
  const release = hold(draft, root);
  let isClosed = false;

  function content() {
    return [
      h("h1", { tabindex: "-1" }, "Inspect ", h("bdi", {}, unit.mark)),
      h(
        "p",
        { class: "faint" },
        [unit.hammer ? `On hammer ${unit.hammer}` : "On no hammer", unit.yard].join(" · "),
        unit.url && [" · ", h("a", { href: unit.url }, "Its page")],
      ),
      unit.out_of_service &&
        h("p", { class: "caution" }, h("strong", {}, "Out of service: "), unit.out_of_service),
      rated && h("p", { class: "caution" }, h("strong", {}, "Being rated again "), rated),
      gravestWaiting(app.items, unit.id).map((finding) =>
        h(
          "p",
          { class: "caution" },
          h("strong", {}, "Signed out of service on this phone, not yet in the ledger: "),
          finding.text,
        ),
      ),
      unsentOf(app.items, unit.id).map((item) =>
        h(
          "p",
          { class: "caution" },
          h(
            "strong",
            {},
            `${capital(item.kind)} signed ${momentWords(item.signed_at)} waits to be sent`,
          ),
          ` (${item.summary || "nothing counted"}): what is ` +
            "told below as last counted and last taped is older.",
        ),
      ),
      isOld(draft) &&
        h(
          "p",
          { class: "note" },
          `This draft was begun ${momentWords(draft.begun_at)}. Look at “Seen at” before you sign.`,
        ),
      clockWords(pack) && h("p", { class: "caution" }, clockWords(pack)),
      h(
        "p",
        { class: "caution lock-out" },
        h("strong", {}, "Lock out"),
        " the power pack and rest the hammer before you count or tape. Nobody under a load.",
      ),
      full,
      troubles.root,
      h("div", { class: "pair head" }, kind.root, typed.seen_at.root),
      pads.root,
      again,
      h("h2", {}, "Measured"),
      h("div", { class: "pair" }, typed.travel.root, typed.hours.root, typed.pack_hours.root),
      typed.travel_reason.root,
      typed.weather.root,
      listPlace,
      findings.root,
      h(
        "section",
        { "aria-labelledby": "photos-head" },
        h("h2", { id: "photos-head" }, "Photos of the whole"),
        photos.root,
      ),
      h("h2", {}, "Anything else"),
      typed.note.root,
      h(
        "p",
        {},
        h("button", { type: "button", class: "quiet", onclick: discard }, "Discard this draft"),
      ),
      lacks,
      h(
        "div",
        { class: "sign-bar" },
        figure,
        pack.user.may_record ? signButton : h("p", {}, "You may read here and not sign."),
      ),
    ];
  }

  function input(name, attributes = {}) {
    return h("input", {
      type: "text",
      autocomplete: "off",
      value: draft[name] ?? "",
      oninput: () => type(name),
      ...attributes,
    });
  }

  function type(name) {
    draft[name] = typed[name].control.value;
    // Set by hand it is the time by whoever's watch, whatever the phone's clock says.
    if (name === "seen_at") draft.seen_by_hand = true;
    typed[name].show();
    changed();
  }

  function changeKind() {
    setKind(draft, pack, kind.control.value);
    list = makeList();
    listPlace.replaceChildren(list.root);
    changed();
  }

  // By the clock that "Seen at" was set by.
  const now = () => (draft.seen_by_hand ? ledgerNow(pack) : new Date());

  function makeList() {
    return checklist(draft, {
      changed,
      found: (item) => findings.add(item),
      unfound: findings.unfound,
    });
  }

  function changed() {
    if (!isClosed) keep.changed();
    troubles.corrected(check(draft, now()));
    draw();
  }

  function draw() {
    const made = figureOf(draft, pack.lots);
    lead.textContent = made.lead;
    small.textContent = `${capital(made.words.join("; "))}.`;
    figure.classList.toggle("below", made.isBelow);
    typed.travel_reason.root.hidden = !isBeyondDesign(draft) && !draft.travel_reason;
    typed.hours.root.classList.toggle("doubtful", Boolean(doubtOfHammer(draft)));
    typed.pack_hours.root.classList.toggle("doubtful", Boolean(doubtOfPack(draft)));
    typed.pack_hours.root.hidden = !unit.power_pack && !draft.pack_hours;
    const healed = saidSoundAgain(draft);
    again.hidden = healed.length === 0 && !isAskedWhySound;
    againWords.textContent = againText(healed);
    const missing = lacking(draft);
    lacks.hidden = missing.length === 0 || isEmpty(draft);
    lacks.textContent =
      `Signed so, it is kept on record but does not count as an inspection “${draft.kind}”, ` +
      `for it lacks: ${missing.join(" and ")}.`;
    list.refresh();
  }

  function allFields() {
    return { kind, pads, ...typed, ...list.fields, ...findings.fields(), ...photos.fields() };
  }

  function sayKept(words) {
    full.hidden = !words;
    if (!words) full.replaceChildren();
    else if (!full.querySelector("button")) {
      full.replaceChildren(
        h("p", {}, words),
        h("p", {}, h("button", { type: "button", onclick: keep.changed }, "Try to keep it again")),
      );
    }
  }

  async function sign() {
    signButton.disabled = true;
    await keep.settle();
    const errors = check(draft, now());
    if (Object.keys(errors).length > 0) troubles.show(errors);
    else if (!doubtOfHours(draft) || confirm(`${doubtOfHours(draft)} Sign all the same?`))
      await enter();
    signButton.disabled = false;
  }

  async function enter() {
    const item = itemOf(draft);
    isClosed = true;
    try {
      await enterSigned(item);
    } catch (trouble) {
      isClosed = false;
      troubles.show({ "": [fullWords(trouble)] });
      return;
    }
    app.signed(item);
  }

  async function discard() {
    if (!confirm(`Discard what was entered of ${unit.mark}, photos too?`)) return;
    // From here on nothing of it is kept any more.
    isClosed = true;
    await keep.settle();
    await app.discard(draft);
  }

  // A draft nothing was entered in leaves no trace.
  async function leave() {
    await keep.settle();
    if (!isClosed && isEmpty(draft)) await drop("drafts", draft.id).catch(() => {});
    release();
  }

  draw();
  keep.changed();
  draft.errors = {};
  return {
    root,
    title: `Inspect ${unit.mark}`,
    address: `#draft/${draft.id}`,
    opened: () => Object.keys(errors).length > 0 && troubles.show(errors, true),
    isKept: () => isClosed || keep.isKept(),
    leave,
  };
}

function kindSelect(pack, draft, onchange) {
  const kinds = Object.keys(pack.checklists);
  if (!kinds.includes(draft.kind)) kinds.push(draft.kind);
  return h(
    "select",
    { onchange, value: draft.kind },
    kinds.map((each) => h("option", { value: each }, capital(each))),
  );
}

function againText(pads) {
  if (pads.length === 0) return "The ledger knows of pads found unsound that are sound here.";
  const names = pads.map((pad) => `${nameOf(pad)} ${pad.condition}`).join(", ");
  return (
    `${names} when last seen, and no new pad on this phone’s record. It counts as before until ` +
    "somebody else has looked and signed too, or the new pad is recorded."
  );
}

function travelHelp({ unit, system }) {
  const last =
    unit.travel_in === null
      ? "never taped yet"
      : `last taped ${lengthWords(unit.travel_in, system)}`;
  const bumper = unit.bumper ? `; bumper: ${unit.bumper}` : "";
  return `${capital(last)}; design travel ${lengthWords(unit.design_travel_in, system)}${bumper}.`;
}

function hoursHelp(machine, last) {
  if (!machine) return "There is none to read: leave it blank.";
  const of = `Of ${machine}. `;
  if (last === null || last === undefined) return `${of}Never read yet.`;
  return (
    `${of}Last read ${plainNumber(last, 1)} h. A lower one ` +
    "is taken only where a change of the meter is on record."
  );
}

const doubtOfHammer = ({ hours, unit }) => doubtOf(hours, unit.hours, unit.hours_at);
const doubtOfPack = ({ pack_hours: hours = "", unit }) =>
  doubtOf(hours, unit.pack_hours ?? null, unit.pack_hours_at);
const doubtOfHours = (draft) =>
  [doubtOfHammer(draft), doubtOfPack(draft)].filter(Boolean).join(" ");

// Why the ledger will doubt the hours, by what it said of the meter last; "" where it won't.
function doubtOf(hours, known, knownAt) {
  const { value } = hours.trim() ? readNumber(hours, "", bounds().hours, known) : {};
  if (value === undefined || known === null) return "";
  const last = `${plainNumber(known, 1)} h read last`;
  const rule = "The ledger refuses it unless a change of the meter is on record.";
  if (value < known) return `${hours.trim()} h is below the ${last}. ${rule}`;
  const passed = (Date.now() - Date.parse(knownAt)) / 3_600_000;
  // A day over, as the ledger allows.
  if (value - known > passed + 24)
    return `${hours.trim()} h is more above the ${last} than there were hours since. ${rule}`;
  return "";
}

function summaryWords(draft) {
  const pads = countedPads(draft);
  return [
    pads &&
      `${Object.values(draft.pads).filter((pad) => pad.condition === "sound").length} ` +
        `of ${counted(pads, "pad")} sound`,
    draft.travel.trim() && `travel ${draft.travel.trim()} ${lengthUnit(draft.system)}`,
    draft.hours.trim() && `${draft.hours.trim()} h`,
    draft.pack_hours?.trim() && `power pack ${draft.pack_hours.trim()} h`,
    draft.findings.length > 0 && counted(draft.findings.length, "finding"),
    draft.photos.length > 0 && counted(draft.photos.length, "photo"),
  ]
    .filter(Boolean)
    .join(", ");
}

function itemOf(draft) {
  return {
    id: draft.id,
    user: draft.user,
    user_name: draft.user_name,
    housing: draft.housing,
    mark: draft.unit.mark,
    kind: draft.kind,
    summary: summaryWords(draft),
    signed_at: new Date().toISOString(),
    state: WAITING,
    trouble: "",
    errors: {},
    tries: 0,
    recorded: false,
    payload: payloadOf(draft),
    draft: structuredClone(draft),
    photos: draft.photos.map(({ id, caption }) => ({ id, caption })),
  };
}

// One tab at a time holds a draft, so that two never write over each other.
export function hold(draft, root) {
  let release = () => {};
  navigator.locks?.request(`draft-${draft.id}`, { ifAvailable: true }, (lock) => {
    if (lock) return new Promise((resolve) => (release = resolve));
    const words =
      "This draft is open in another tab of this phone: " +
      "go on there, or close it and open this page again.";
    root.replaceChildren(
      h("h1", { tabindex: "-1" }, "Open elsewhere"),
      h("p", { class: "note" }, words),
    );
    return undefined;
  });
  return () => release();
}
