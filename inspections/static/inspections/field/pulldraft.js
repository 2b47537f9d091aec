// A draft of a pull: what happened when one pile was tried. Texts are kept as typed, in the units
// they were typed in; figures are read from them.
import { bounds, newId } from "./draft.js";
import { readLength, readNumber, shownBounds, storedAs } from "./quantities.js";
import { localMoment } from "./words.js";

export const CAME = "came";
export const READ = "load indicator";
export const NOT_READ = "not read";
export const VIBRATED = "vibrated";
export const OUTCOMES = [
  [CAME, "came"],
  ["did not come", "did not come"],
  ["came in part", "in part, then stuck"],
  ["broke", "pile or gear broke"],
];
export const METHODS = [
  [VIBRATED, "vibrated"],
  ["crane alone", "crane alone"],
];
export const SOURCES = [
  [READ, "load indicator"],
  [NOT_READ, "not read"],
];
// By the ledger's name of each figure: its quantity, and an example in either system.
export const FIGURES = {
  hook_load_lbf: ["force", { us: "62000", si: "276" }],
  tare_lbf: ["force", { us: "17000", si: "76" }],
  stretch_in: ["length", { us: "3.5 or 3 1/2", si: "89" }],
  minutes: ["", { us: "12", si: "12" }],
  toe_depth_ft: ["depth", { us: "40", si: "12.2" }],
};

export function newPull(pack, commitment, now = new Date()) {
  const group = commitment.piles[0];
  return {
    id: newId(),
    what: "pull",
    user: pack.user.id,
    user_name: pack.user.name,
    system: pack.user.units,
    housing: commitment.housing,
    commitment,
    begun_at: now.toISOString(),
    pulled_at: localMoment(now),
    pulled_by_hand: false,
    pile_group: group.number,
    pile_mark: "",
    outcome: "",
    method: group.is_vibrating ? VIBRATED : "crane alone",
    load_source: "",
    hook_load_lbf: "",
    tare_lbf: "",
    stretch_in: "",
    minutes: "",
    toe_depth_ft: "",
    watched_by: "",
    in_the_way: "",
    photos: [],
    errors: {},
  };
}

export const isPull = (draft) => draft.what === "pull";

export const groupOf = (draft) =>
  draft.commitment.piles.find((pile) => pile.number === draft.pile_group);

// Reads a figure as typed: {value} as it is stored, {words} that say what would do, {} for blank.
export function readFigure(draft, name) {
  const text = draft[name].trim();
  if (!text) return {};
  const [quantity, examples] = FIGURES[name];
  const example = examples[draft.system];
  const within = shownBounds(quantity, bounds().pull[name], draft.system);
  const read =
    quantity === "length"
      ? readLength(text, draft.system, example, within)
      : readNumber(text, example, within);
  if (read.words || !quantity) return read;
  return { value: storedAs(quantity, read.value, draft.system) };
}

export function isEmptyPull(draft) {
  const typed = ["pile_mark", "outcome", "load_source", "watched_by", "in_the_way"];
  const names = [...typed, ...Object.keys(FIGURES)];
  return draft.photos.length === 0 && names.every((name) => !draft[name].trim());
}

export function pullPayload(draft, areDoubtsKnown) {
  const isRead = draft.load_source === READ;
  const figures = Object.fromEntries(
    Object.keys(FIGURES).map((name) => [name, readFigure(draft, name).value ?? null]),
  );
  return {
    id: draft.id,
    commitment: draft.commitment.id,
    signed_by: draft.user,
    pulled_at: new Date(draft.pulled_at).toISOString(),
    pulled_by_hand: draft.pulled_by_hand,
    pile_group: draft.pile_group,
    pile_mark: draft.pile_mark.trim(),
    outcome: draft.outcome,
    method: draft.method,
    load_source: draft.load_source,
    ...figures,
    hook_load_lbf: isRead ? figures.hook_load_lbf : null,
    tare_lbf: isRead ? figures.tare_lbf : null,
    watched_by: draft.watched_by.trim(),
    in_the_way: draft.in_the_way.trim(),
    are_doubts_known: areDoubtsKnown,
    photos: draft.photos.map(({ id, caption }) => ({ id, caption: caption.trim() })),
  };
}

const OWN = [
  "pulled_at",
  "pile_group",
  "pile_mark",
  "outcome",
  "method",
  "load_source",
  "watched_by",
  "in_the_way",
];

// The ledger names photos by their place; a draft names them by what they are.
export function pullFieldsOf(errors, draft) {
  const fields = {};
  for (const [name, words] of Object.entries(errors)) {
    const [first, place] = name.split(".");
    const photo = first === "photos" && draft.photos[place];
    const own = OWN.includes(first) || first in FIGURES ? first : "";
    (fields[photo ? `photos.${photo.id}` : own] ??= []).push(...words);
  }
  return fields;
}
