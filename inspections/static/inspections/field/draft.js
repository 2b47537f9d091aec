// A draft: what is being entered of one inspection. Texts are kept as typed, in the units they
// were typed in; figures are read from them.
import { readLength, shownBounds, storedLength } from "./quantities.js";
import { localMoment } from "./words.js";

export const CONDITIONS = ["sound", "cracked", "debonded", "swollen", "missing"];
export const SEVERITIES = {
  note: "monitor",
  mend: "to be corrected",
  stop: "out of service at once",
};
export const DONE = "done";
export const NOT_APPLICABLE = "not applicable";
export const FINDING = "finding";
export const NOT_SO = "not so";
const PLAIN_KIND = "pad count";
const OLD_MS = 12 * 3600 * 1000;

export function newDraft(pack, unit, now = new Date()) {
  // One of the yard's own, such as an oil change, is chosen and never presumed.
  const kind = unit.due.find((each) => each.is_common)?.kind ?? PLAIN_KIND;
  const draft = {
    id: newId(),
    user: pack.user.id,
    user_name: pack.user.name,
    system: pack.user.units,
    housing: unit.id,
    unit,
    begun_at: now.toISOString(),
    seen_at: localMoment(now),
    seen_by_hand: false,
    pads: Object.fromEntries(
      unit.pads.map((pad) => [nameOf(pad), { condition: "", lot: pad.lot }]),
    ),
    travel: "",
    travel_reason: "",
    hours: "",
    pack_hours: "",
    finding_words: pack.finding_words ?? [],
    weather: "",
    note: "",
    sound_again_reason: "",
    second_look_by: "",
    answers: {},
    findings: [],
    photos: [],
    errors: {},
  };
  return setKind(draft, pack, kind);
}

// The list of a kind stays as it was when the kind was chosen, whatever the office edits since.
export function setKind(draft, pack, kind) {
  const { id, items, needs = [] } = pack.checklists[kind] ?? { id: null, items: [] };
  return Object.assign(draft, { kind, list: { id, items, needs } });
}

export const nameOf = (pad) => `${pad.side}${pad.number}`;

// Works without a secure page too, where randomUUID is not to be had.
export function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

export const isUnsound = ({ condition }) => Boolean(condition) && condition !== "sound";

// The positions said to be sound that were found unsound before, as last known on this phone.
export const saidSoundAgain = (draft) =>
  draft.unit.pads.filter((pad) => isUnsound(pad) && draft.pads[nameOf(pad)].condition === "sound");

// The machine a finding is of: as chosen, else by its item's part, else by its words; of those that
// hang together. "" where this phone does not know what hangs together.
export function machineOf(finding, draft) {
  const there = (draft.unit.machines ?? []).map(({ sort }) => sort);
  const hangs = (sort) => there.includes(sort);
  if (hangs(finding.machine)) return finding.machine;
  const item = draft.list.items.find(({ key }) => key === finding.item_key);
  const guess = item?.sort ?? sortByWords(finding.text, draft.finding_words ?? []);
  return [guess, "hammer", "housing"].find(hangs) ?? there[0] ?? "";
}

function sortByWords(text, patterns) {
  return patterns.find(([, pattern]) => new RegExp(pattern, "i").test(text))?.[0] ?? "hammer";
}

// What the records can tell is answered by what is entered: what each such item of a list needs.
const ANSWERED_BY = {
  "pads-counted": "pads",
  "travel-taped": "travel",
  "hours-read": "hours",
};
export const needOf = (item) => ANSWERED_BY[item.key] ?? null;

const isDone = {
  pads: (draft) => countedPads(draft) === draft.unit.pads.length,
  travel: (draft) => typedTravelIn(draft) !== null,
  hours: (draft) => Boolean(draft.hours.trim() || draft.pack_hours?.trim()),
};
export const isEntered = (draft, need) => isDone[need](draft);

const NEED_WORDS = {
  pads: "every pad counted",
  travel: "the travel taped",
  hours: "the hour meter read",
};
// What the draft lacks to count as one of its kind, in words.
export const lacking = (draft) =>
  (draft.list.needs ?? [])
    .filter((need) => !isEntered(draft, need))
    .map((need) => NEED_WORDS[need]);

// As counted here, else as last seen.
export const padsNotSound = (draft) =>
  draft.unit.pads.filter((pad) => isUnsound(countedPads(draft) ? draft.pads[nameOf(pad)] : pad));

// Whether “done” of an item is what the pads deny: none torn, gone or out of line.
export const contradicted = (draft, item) =>
  item.key === "pads-look" && padsNotSound(draft).length > 0;

export function countedPads(draft) {
  return Object.values(draft.pads).filter((pad) => pad.condition).length;
}

// Every position in order, as counted here; as last seen where nothing was counted.
export function padsForFigures(draft) {
  if (countedPads(draft) === 0) return draft.unit.pads;
  return draft.unit.pads.map((pad) => {
    const { condition, lot } = draft.pads[nameOf(pad)];
    // Said to be sound again it counts as before, until somebody else has looked.
    if (condition === "sound" && isUnsound(pad)) return pad;
    return { ...pad, condition, lot: condition === "missing" ? null : lot };
  });
}

// What numbers must lie between and how long texts may be, as the page brings it from the ledger.
export const bounds = () => JSON.parse(document.body.dataset.bounds);

export const isWithin = ([least, most], number) => number >= least && number <= most;

// The travel typed, in; null where blank or none there can be.
export function typedTravelIn(draft) {
  if (!draft.travel.trim()) return null;
  const { value } = readLength(
    draft.travel,
    draft.system,
    "",
    shownBounds("length", bounds().travel_in, draft.system),
  );
  const inches = value === undefined ? NaN : storedLength(value, draft.system);
  return isWithin(bounds().travel_in, inches) ? inches : null;
}

export function isBeyondDesign(draft) {
  const inches = typedTravelIn(draft);
  return inches !== null && inches > draft.unit.design_travel_in + bounds().travel_rounding_in;
}

export const answersGiven = (draft) =>
  draft.list.items.filter((item) => !needOf(item) && draft.answers[item.key]?.state);

export const isOld = (draft, now = new Date()) => now - new Date(draft.begun_at) > OLD_MS;

// Whether nothing was seen yet: the weather alone is no inspection.
export function sawNothing(draft) {
  const words = [draft.travel, draft.hours, draft.pack_hours, draft.note].join("").trim();
  const given = countedPads(draft) + answersGiven(draft).length + draft.findings.length;
  return !words && given + draft.photos.length === 0;
}

export const isEmpty = (draft) => sawNothing(draft) && !draft.weather.trim();
