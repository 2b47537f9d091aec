// The line pull as the pads and the travel stand on the phone, in words.
import { countedPads, isBeyondDesign, padsForFigures, typedTravelIn } from "./draft.js";
import { linePull } from "./linepull.js";
import { capacityWords, lengthWords, listedWords, pullWords } from "./quantities.js";

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
  const { system, unit } = draft;
  const listedLbf = unit.listed_lbf;
  if (figures.pull_lbf === null) {
    return {
      lead: "No working capacity yet",
      words: [`needs ${figures.missing.join(" and ")}`, many],
      isBelow: false,
    };
  }
  // In one line, but for the words before it.
  const inOneLine = (words) => words.replaceAll(" ", "\u00a0");
  const pull = inOneLine(pullWords(figures.pull_lbf, system, isPart ? null : listedLbf));
  if (isPart) {
    return {
      lead: `Line pull so far: ${pull}`,
      words: [many, ...detail(draft, figures, taped, proofRatio)],
      isBelow: false,
    };
  }
  const isBelow = listedLbf !== null && figures.pull_lbf < listedLbf;
  const known = isAsRecorded(draft, pads, taped) ? unit.working_capacity_lbf : null;
  const capacity = known === null ? pull : inOneLine(capacityWords(known, system, listedLbf));
  const most = known === null ? "no more than " : "";
  return {
    lead: `Working capacity: ${most}${capacity}${ofListed(known ?? figures.pull_lbf, listedLbf)}`,
    words: [
      known === null ? "not yet in the ledger" : "as the ledger has it",
      many,
      standingWords(draft, isBelow, known),
      // Else it is the bound above: no capacity is more than the line pull.
      known !== null && `line pull no more than ${pull}`,
      ...detail(draft, figures, taped, proofRatio),
    ].filter(Boolean),
    isBelow,
  };
}

function ofListed(lbf, listedLbf) {
  return listedLbf === null ? "" : `, ${Math.floor((100 * lbf) / listedLbf)}\u00a0% of listed`;
}

// What can be told without the ledger: a line pull below the listing is below it for certain.
function standingWords({ unit, system }, isBelow, known) {
  if (unit.listed_lbf === null) return "unrated: no listed rating";
  const listed = listedWords(unit.listed_lbf, system);
  if (isBelow) return `below the listed ${listed}`;
  if (known !== null) return `${unit.standing}, listed ${listed}`;
  return `meets the listed ${listed} or not proven`;
}

// Whether pads and travel are those that the ledger rated, so that its figures hold.
function isAsRecorded(draft, pads, taped) {
  const { unit } = draft;
  return (
    typeof unit.working_capacity_lbf === "number" &&
    (taped === null || taped === unit.travel_in) &&
    unit.pads.every(
      (pad, place) => pads[place].condition === pad.condition && pads[place].lot === pad.lot,
    )
  );
}

function detail(draft, figures, taped, proofRatio) {
  const small = [];
  if (proofRatio < 1) small.push(`a proof pull found ${Math.floor(proofRatio * 100)} % of it`);
  const at = lengthWords(figures.usable_travel_in, draft.system);
  if (figures.limited_by === "tested stretch") small.push(`at ${at}, limited by tested stretch`);
  else small.push(taped === null ? `at ${at}, last taped` : `at ${at}`);
  if (isBeyondDesign(draft)) small.push("beyond the design travel");
  if (figures.weaker_side) small.push(`twice side ${figures.weaker_side}, the weaker`);
  if (figures.short_pads) small.push(`${figures.short_pads} tested less far, adding nothing`);
  if (figures.unrated_pads) small.push(`${figures.unrated_pads} unrated, adding nothing`);
  return small;
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
