// The line pull as the pads and the travel stand on the phone, in words.
import { countedPads, isBeyondDesign, padsForFigures, typedTravelIn } from "./draft.js";
import { linePull } from "./linepull.js";
import { lengthWords, listedWords, pullWords } from "./quantities.js";

// Returns {lead, words: [small print], isBelow}.
export function figureOf(draft, lots) {
  const pads = padsForFigures(draft);
  const counted = pads.filter((pad) => pad.condition);
  const isPart = countedPads(draft) > 0 && counted.length < pads.length;
  const taped = typedTravelIn(draft);
  const travelIn = taped ?? draft.unit.travel_in;
  const proofRatio = proofRatioOf(draft, pads);
  // Half-way through a count the other side is not empty, only not counted yet.
  const figures = linePull(isPart ? counted : pads, lots, travelIn, {
    isGuided: isPart || (draft.unit.is_guided ?? false),
    proofRatio,
  });
  const many = padWords(draft, figures, pads.length, isPart);
  const small = ["not yet in the ledger: it decides", many];
  if (figures.pull_lbf === null) {
    return {
      lead: "No line pull yet",
      words: [`needs ${figures.missing.join(" and ")}`, many],
      isBelow: false,
    };
  }
  if (proofRatio < 1) small.push(`a proof pull found ${Math.floor(proofRatio * 100)} % of it`);
  const at = lengthWords(figures.usable_travel_in, draft.system);
  if (figures.limited_by === "tested stretch") small.push(`at ${at}, limited by tested stretch`);
  else small.push(taped === null ? `at ${at}, last taped` : `at ${at}`);
  if (isBeyondDesign(draft)) small.push("beyond the design travel");
  if (figures.weaker_side) small.push(`twice side ${figures.weaker_side}, the weaker`);
  if (figures.short_pads) small.push(`${figures.short_pads} tested less far, adding nothing`);
  if (figures.unrated_pads) small.push(`${figures.unrated_pads} unrated, adding nothing`);
  const isBelow =
    !isPart && draft.unit.listed_lbf !== null && figures.pull_lbf < draft.unit.listed_lbf;
  if (isBelow) small.push(`below the listed ${listedWords(draft.unit.listed_lbf, draft.system)}`);
  const listed = isPart ? null : draft.unit.listed_lbf;
  // In one line, but for the words before it.
  const pull = pullWords(figures.pull_lbf, draft.system, listed).replaceAll(" ", "\u00a0");
  return { lead: isPart ? `${pull} so far` : `No more than ${pull}`, words: small, isBelow };
}

// The share that a proof pull holds the unit to, as the ledger does: a softness whatever pads are
// seen, else only of the pads it was made with.
function proofRatioOf(draft, pads) {
  const proof = draft.unit.proof;
  if (!proof) return 1;
  const areSame = draft.unit.pads.every(
    (pad, place) => pads[place].condition === pad.condition && pads[place].lot === pad.lot,
  );
  return proof.is_softer || areSame ? proof.ratio : 1;
}

function padWords(draft, figures, positions, isPart) {
  if (isPart) return `${countedPads(draft)} of ${positions} counted so far`;
  if (countedPads(draft)) return `${figures.sound_pads} of ${positions} sound`;
  const isKnown = draft.unit.pads.every((pad) => pad.condition);
  return isKnown ? "nothing counted yet: the pads as last seen" : "nothing counted yet";
}
