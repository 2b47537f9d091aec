// A draft as it is sent, and what the ledger refuses of it brought back to the draft's fields.
import {
  DONE,
  NOT_APPLICABLE,
  NOT_SO,
  bounds,
  countedPads,
  isBeyondDesign,
  isEntered,
  machineOf,
  nameOf,
  needOf,
  saidSoundAgain,
  typedTravelIn,
} from "./draft.js";
import { readNumber } from "./quantities.js";

export function payloadOf(draft) {
  const numbers = Object.fromEntries(
    draft.findings.map((finding, place) => [finding.uid, place + 1]),
  );
  return {
    id: draft.id,
    housing: draft.housing,
    kind: draft.kind,
    seen_at: new Date(draft.seen_at).toISOString(),
    seen_by_hand: draft.seen_by_hand === true,
    signed_by: draft.user,
    pads: countedPads(draft) ? padsOf(draft) : [],
    travel_in: typedTravelIn(draft),
    travel_reason: isBeyondDesign(draft) ? draft.travel_reason.trim() : "",
    hours: hoursTyped(draft.hours, draft.unit.hours),
    pack_hours: hoursTyped(draft.pack_hours, draft.unit.pack_hours),
    ...soundAgain(draft),
    weather: draft.weather.trim(),
    note: draft.note.trim(),
    checklist: draft.list.id,
    answers: draft.list.items.map((item) => answerOf(draft, item)),
    findings: draft.findings.map((finding) => ({
      ...findingOf(finding, numbers[finding.uid]),
      machine: machineOf(finding, draft) || null,
    })),
    photos: draft.photos.map((photo) => ({
      id: photo.id,
      caption: photo.caption.trim(),
      finding: numbers[photo.finding] ?? null,
    })),
  };
}

// A draft begun before hours of the power pack were asked for has none.
function hoursTyped(text = "", last = null) {
  return text.trim() ? readNumber(text, "", bounds().hours, last).value : null;
}

function soundAgain(draft) {
  // A draft begun before this was asked has neither; of no such pad neither means anything.
  const { sound_again_reason: reason = "", second_look_by: by = "" } = draft;
  // What the ledger knew and this phone did not, it asks about by the reason alone.
  if (saidSoundAgain(draft).length === 0 && !reason.trim())
    return { sound_again_reason: "", second_look_by: null };
  return { sound_again_reason: reason.trim(), second_look_by: by ? Number(by) : null };
}

function padsOf(draft) {
  return draft.unit.pads.map((pad) => {
    const { condition, lot } = draft.pads[nameOf(pad)];
    return {
      side: pad.side,
      number: pad.number,
      condition,
      lot: condition === "missing" ? null : lot,
    };
  });
}

function answerOf(draft, item) {
  const need = needOf(item);
  if (need) {
    const known = isEntered(draft, need) ? DONE : NOT_SO;
    return { key: item.key, part: item.part, text: item.text, state: known, reason: "" };
  }
  const { state, reason = "" } = draft.answers[item.key];
  const words = state === NOT_APPLICABLE ? reason.trim() : "";
  return { key: item.key, part: item.part, text: item.text, state, reason: words };
}

function findingOf(finding, number) {
  const { item_key, severity, text, act_by, who_acts } = finding;
  return {
    number,
    item_key,
    severity,
    text: text.trim(),
    act_by: act_by || null,
    who_acts: who_acts.trim(),
  };
}

const SAME = { travel_in: "travel" };
const OWN = [
  "kind",
  "seen_at",
  "travel",
  "travel_reason",
  "hours",
  "pack_hours",
  "weather",
  "note",
  "pads",
  "sound_again_reason",
  "second_look_by",
];

// The ledger names rows by their place; a draft names them by what they are.
export function fieldsOf(errors, draft) {
  const fields = {};
  for (const [name, words] of Object.entries(errors)) {
    (fields[fieldOf(name, draft)] ??= []).push(...words);
  }
  return fields;
}

function fieldOf(name, draft) {
  const [first, place, part] = name.split(".");
  if (first === "answers" && draft.list.items[place])
    return `answers.${draft.list.items[place].key}`;
  if (first === "findings" && draft.findings[place])
    return `findings.${draft.findings[place].uid}.${part}`;
  if (first === "photos" && draft.photos[place]) return `photos.${draft.photos[place].id}`;
  const own = SAME[first] ?? first;
  return OWN.includes(own) || own === "answers" ? own : "";
}
