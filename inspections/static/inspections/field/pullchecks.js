// What is wrong or doubtful with a pull: what the ledger would refuse or doubt is said here first,
// for by then the crew is gone. The ledger's own rules decide.
import { lengthTrouble, momentTrouble } from "./checks.js";
import { bounds } from "./draft.js";
import { CAME, FIGURES, NOT_READ, READ, VIBRATED, groupOf, readFigure } from "./pulldraft.js";
import { plainNumber, quantityWords, short } from "./quantities.js";

// As the ledger has it: an indicator and the weights on record agree no better.
const SAME_WITHIN = 0.03;
const LBF_PER_KN = 224.809;
const MINUTE_MS = 60_000;

// Returns {field: [words]} of what can't be.
export function checkPull(draft, now = new Date()) {
  const errors = {};
  const fail = (field, words) => words && (errors[field] ??= []).push(words);
  if (!draft.pile_mark.trim())
    fail("pile_mark", "This is blank: give the number or mark of the pile.");
  if (!draft.outcome) fail("outcome", "Say whether it came.");
  if (!draft.method) fail("method", "Say how it was pulled.");
  if (!draft.load_source) fail("load_source", "Say whether the hook load was read.");
  if (!draft.watched_by.trim())
    fail("watched_by", "This is blank: give the name of who watched it.");
  for (const name of ["pile_mark", "watched_by", "in_the_way"])
    fail(name, lengthTrouble(draft[name], bounds().longest[name]));
  for (const photo of draft.photos)
    fail(`photos.${photo.id}`, lengthTrouble(photo.caption, bounds().longest.caption));
  fail("pulled_at", momentTrouble(draft.pulled_at, now) || outsideCommitment(draft));
  for (const name of Object.keys(FIGURES)) fail(name, figureTrouble(draft, name));
  if (draft.load_source === READ && !draft.hook_load_lbf.trim()) {
    fail(
      "hook_load_lbf",
      "This is blank: give what the load indicator showed at its highest, or say that it was not " +
        "read.",
    );
  }
  if (Object.keys(errors).length === 0) checkFigures(draft, fail);
  return errors;
}

function outsideCommitment({ pulled_at, commitment, pulled_by_hand }) {
  // One left alone is put right by the ledger's own clock as it is sent.
  if (!pulled_by_hand) return "";
  const at = new Date(pulled_at);
  if (at < new Date(commitment.committed_at) - MINUTE_MS)
    return "This is before the unit was committed: give when it was pulled.";
  if (commitment.released_at && at > new Date(commitment.released_at))
    return "This is after the unit was released from this job: give when it was pulled.";
  return "";
}

const isLeftOut = (draft, name) =>
  draft.load_source === NOT_READ && ["hook_load_lbf", "tare_lbf"].includes(name);

function figureTrouble(draft, name) {
  if (isLeftOut(draft, name)) return "";
  const { value, words } = readFigure(draft, name);
  if (words || value === undefined) return words;
  const [least, most, aboveLeast] = bounds().pull[name];
  if ((aboveLeast ? value > least : value >= least) && value <= most) return "";
  const [low, high] = [least, most].map((each) => figureWords(name, each, draft.system));
  return `“${short(draft[name])}” won’t do: give ${aboveLeast ? "more than " : ""}${low}${
    aboveLeast ? "" : " or more"
  }, up to ${high}.`;
}

function figureWords(name, value, system) {
  const [quantity] = FIGURES[name];
  return quantity ? quantityWords(quantity, value, system) : plainNumber(value, 0);
}

function checkFigures(draft, fail) {
  const { commitment, system } = draft;
  const pile = groupOf(draft);
  const at = (name) => (isLeftOut(draft, name) ? undefined : readFigure(draft, name).value);
  if (at("toe_depth_ft") > pile.embedment_ft + 0.005) {
    const stood = quantityWords("depth", pile.embedment_ft, system);
    fail("toe_depth_ft", `The pile stood ${stood} deep: give what was left in the ground.`);
  }
  if (at("stretch_in") > commitment.stops_in)
    fail("stretch_in", "This can’t be: the housing meets its stops before. Read the rule again.");
  const [load, tare] = [at("hook_load_lbf"), at("tare_lbf")];
  if (load === undefined) return;
  if (tare >= load) fail("tare_lbf", "Not less than the highest hook load: read both again.");
  const unit = tare ?? pile.unit_lb;
  if (unit === null) return;
  const hung = unit + (draft.outcome === CAME ? pile.carried_lb : 0);
  if (load > hung * (1 - SAME_WITHIN)) return;
  const asKn = load * LBF_PER_KN;
  const isKn = system === "us" && asKn > hung && load < 3000;
  fail(
    "hook_load_lbf",
    `This is less than the ${quantityWords("weight", hung, system)} that hang from the hook ` +
      "anyway. Give all that the indicator showed, not the pull at the pads" +
      (isKn ? `; as kN it would be ${quantityWords("force", asKn, system)}.` : "."),
  );
}

// Returns words of what looks wrong and may be right; the draft must be without errors.
export function doubtsOf(draft) {
  const { commitment, system } = draft;
  const pile = groupOf(draft);
  const day = draft.pulled_at.slice(0, 10);
  const words = [];
  if (day < commitment.first_day || day > commitment.last_day)
    words.push(`The unit was committed for ${commitment.days}, and this is another day.`);
  const load = draft.load_source === READ ? readFigure(draft, "hook_load_lbf").value : undefined;
  if (pile.capacity_lbf !== null && load > pile.capacity_lbf) {
    const capacity = quantityWords("force", pile.capacity_lbf, system);
    words.push(`The hook load is above the crane’s capacity for this pull, ${capacity}.`);
  }
  const usable = commitment.usable_travel_in;
  if (usable !== null && readFigure(draft, "stretch_in").value > usable + 0.005) {
    const travel = quantityWords("length", usable, system);
    words.push(`The stretch is beyond the usable travel of ${travel}: have the pads looked at.`);
  }
  if ((draft.method === VIBRATED) !== pile.is_vibrating)
    words.push("The answer was calculated for the other way of pulling.");
  return words;
}
