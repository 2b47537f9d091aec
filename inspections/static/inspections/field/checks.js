// What is wrong with a draft, by field, in words: what the ledger would refuse is said here first.
import {
  DONE,
  NOT_APPLICABLE,
  SEVERITIES,
  bounds,
  contradicted,
  countedPads,
  isBeyondDesign,
  isWithin,
  nameOf,
  needOf,
  padsNotSound,
  saidSoundAgain,
  sawNothing,
} from "./draft.js";
import {
  lengthWords,
  plainNumber,
  readLength,
  readNumber,
  short,
  shownBounds,
  storedLength,
} from "./quantities.js";
import { counted, localMoment } from "./words.js";

const LEEWAY_MS = 10 * 60 * 1000;
const EARLIEST_YEAR = 1950;

// Returns {field: [words]}; fields of answers and findings are “answers.<key>” and so on.
export function check(draft, now = new Date()) {
  const errors = {};
  const fail = (field, words) => words && (errors[field] ??= []).push(words);
  if (sawNothing(draft)) {
    fail("", "Nothing was entered yet: count the pads, tape the travel, or answer the list.");
  }
  fail("seen_at", momentTrouble(draft.seen_at, now));
  fail("pads", padsTrouble(draft));
  fail("travel", travelTrouble(draft));
  if (!errors.travel && isBeyondDesign(draft) && !draft.travel_reason.trim()) {
    fail("travel_reason", "Tape it again, or say why a travel beyond the design travel is right.");
  }
  fail("hours", hoursTrouble(draft, HAMMER));
  fail("pack_hours", hoursTrouble(draft, POWER_PACK));
  if (saidSoundAgain(draft).length > 0 && !draft.sound_again_reason?.trim())
    fail("sound_again_reason", "Say why they are sound after all.");
  for (const name of ["travel_reason", "weather", "note", "sound_again_reason"])
    fail(name, lengthTrouble(draft[name] ?? "", bounds().longest[name]));
  checkList(draft, fail);
  for (const finding of draft.findings) checkFinding(draft, finding, now, fail);
  for (const photo of draft.photos)
    fail(`photos.${photo.id}`, lengthTrouble(photo.caption, bounds().longest.caption));
  return errors;
}

export function lengthTrouble(text, most) {
  const length = [...text.trim()].length;
  if (length <= most) return "";
  return `This has ${plainNumber(length, 0)} characters: ${plainNumber(most, 0)} at the most.`;
}

export function momentTrouble(text, now) {
  const moment = new Date(text);
  if (!text) return "This is blank: give the date and time.";
  if (Number.isNaN(moment.getTime()))
    return "This is not a date and time: give one such as 2026-03-14 09:30.";
  if (moment.getTime() > now.getTime() + LEEWAY_MS)
    return "This is in the future: give when it happened.";
  if (moment.getFullYear() < EARLIEST_YEAR) return "This is too long ago: give when it happened.";
  return "";
}

function padsTrouble(draft) {
  const done = countedPads(draft);
  if (done === 0 || done === draft.unit.pads.length) return "";
  const left = draft.unit.pads.map(nameOf).filter((name) => !draft.pads[name].condition);
  const names =
    left.length > 4
      ? `${left.slice(0, 4).join(", ")} and ${left.length - 4} more`
      : left.join(", ");
  return `Not counted: ${names}. Say what is in each, or clear the count.`;
}

function travelTrouble(draft) {
  if (!draft.travel.trim()) return "";
  const { value, words } = readLength(
    draft.travel,
    draft.system,
    draft.system === "si" ? "140" : "5.5 or 5 1/2",
    shownBounds("length", bounds().travel_in, draft.system),
  );
  if (words) return words;
  const inches = storedLength(value, draft.system);
  if (isWithin(bounds().travel_in, inches)) return "";
  const [least, most] = bounds().travel_in.map((each) => lengthWords(each, draft.system));
  return `“${short(draft.travel)}” won’t do: give ${least} or more, up to ${most}.`;
}

// Where a draft has the hours of each meter, and what its unit says of it.
const HAMMER = { name: "hours", kinds: "hours_kinds", machine: "hammer" };
const POWER_PACK = { name: "pack_hours", kinds: "pack_hours_kinds", machine: "power_pack" };

function hoursTrouble(draft, { name, kinds, machine }) {
  const { unit, kind } = draft;
  const text = draft[name] ?? "";
  const isNeeded = unit[machine] && (unit[kinds] ?? []).includes(kind);
  if (!text.trim() && isNeeded)
    return `“${kind}” goes by hours: read the meter of ${unit[machine]}.`;
  if (!text.trim()) return "";
  if (!unit[machine])
    return `There is no ${machine.replace("_", " ")}, so there is no meter: leave it blank.`;
  const { value, words } = readNumber(text, "1240.5", bounds().hours, unit[name]);
  if (words) return words;
  if (isWithin(bounds().hours, value)) return "";
  const [least, most] = bounds().hours.map((each) => plainNumber(each, 0));
  return `“${short(text)}” won’t do: give ${least} or more, up to ${most}.`;
}

function checkList(draft, fail) {
  const left = draft.list.items.filter((item) => !needOf(item) && !draft.answers[item.key]?.state);
  if (left.length > 0) {
    fail(
      "answers",
      `${counted(left.length, "item")} of the list not answered ` +
        "yet: say done, not applicable, or what was found.",
    );
  }
  for (const item of draft.list.items) {
    const { state, reason = "" } = draft.answers[item.key] ?? {};
    if (state === DONE && contradicted(draft, item)) {
      const names = padsNotSound(draft)
        .map((pad) => nameOf(pad))
        .join(", ");
      fail(`answers.${item.key}`, `${names} not sound: say so here as a finding.`);
    }
    if (state !== NOT_APPLICABLE) continue;
    if (!reason.trim()) fail(`answers.${item.key}`, "Say why this does not apply.");
    fail(`answers.${item.key}`, lengthTrouble(reason, bounds().longest.reason));
  }
}

// Written year first, as a day to act by is, so that the two compare as text.
function daySeen(draft, now) {
  return (momentTrouble(draft.seen_at, now) ? localMoment(now) : draft.seen_at).slice(0, 10);
}

function checkFinding(draft, finding, now, fail) {
  const at = (name) => `findings.${finding.uid}.${name}`;
  if (!finding.text.trim()) fail(at("text"), "Say what was found.");
  fail(at("text"), lengthTrouble(finding.text, bounds().longest.text));
  fail(at("who_acts"), lengthTrouble(finding.who_acts, bounds().longest.who_acts));
  // A draft may be older than the words it was graded by.
  if (!(finding.severity in SEVERITIES)) fail(at("severity"), "Say how grave it is.");
  if (finding.severity && finding.severity !== "note") {
    if (!finding.who_acts.trim()) fail(at("who_acts"), "Say who must act.");
    if (!finding.act_by) fail(at("act_by"), "Say by when it must be acted on.");
  }
  if (finding.act_by && finding.act_by < daySeen(draft, now)) {
    fail(at("act_by"), "This is before it was seen: give a day to come.");
  }
}
