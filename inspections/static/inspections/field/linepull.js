// The line pull of a unit: the ledger's own formula (ratings/mechanics/linepull.py), so that the
// phone shows the digits the ledger will. One table of cases tests both.

// The sum of numbers rounded once: Shewchuk's exact partial sums, as math.fsum has them.
export function exactSum(numbers) {
  const partials = [];
  for (const number of numbers) add(partials, number);
  let left = partials.length;
  if (left === 0) return 0;
  let high = partials[--left];
  let low = 0;
  while (left > 0 && low === 0) {
    const before = high;
    const next = partials[--left];
    high = before + next;
    low = next - (high - before);
  }
  // Half-way between two numbers: what is left over says to which side it goes.
  if (left > 0 && low !== 0 && Math.sign(low) === Math.sign(partials[left - 1])) {
    const rest = low * 2;
    const rounded = high + rest;
    if (rest === rounded - high) high = rounded;
  }
  return high;
}

function add(partials, number) {
  let kept = 0;
  let carried = number;
  for (let other of partials) {
    if (Math.abs(carried) < Math.abs(other)) [carried, other] = [other, carried];
    const high = carried + other;
    const low = other - (high - carried);
    if (low !== 0) partials[kept++] = low;
    carried = high;
  }
  partials.length = kept;
  if (carried !== 0) partials.push(carried);
}

// The force of one pad at a stretch within its tested stretch: rate × stretch, or Hermite pieces.
export function forceOf(lot, stretchIn) {
  return lot.curve ? onCurve(lot.curve, stretchIn) : lot.rate_lbf_in * stretchIn;
}

function onCurve(knots, stretchIn) {
  const after = knots.findIndex(([stretch]) => stretch > stretchIn);
  const index = after === -1 ? knots.length - 1 : after;
  const [leftIn, leftLbf, leftSlope] = knots[index - 1];
  const [rightIn, rightLbf, rightSlope] = knots[index];
  const width = rightIn - leftIn;
  const share = (stretchIn - leftIn) / width;
  if (share === 0) return leftLbf;
  if (share === 1) return rightLbf;
  const square = share * share;
  const cube = share * share * share;
  const force = exactSum([
    (2 * cube - 3 * square + 1) * leftLbf,
    (cube - 2 * square + share) * width * leftSlope,
    (3 * square - 2 * cube) * rightLbf,
    (cube - square) * width * rightSlope,
  ]);
  return Math.min(Math.max(force, leftLbf), rightLbf);
}

// What the pads carry at s = min(travel, tested stretch of every rated lot fitted).
// pads: [{condition, lot}], condition "" where not counted; lots: [{id, rate_lbf_in,
// tested_stretch_in, curve}], rate null where unrated. pull_lbf is null where `missing` says why.
export function linePull(pads, lots, travelIn) {
  const sound = pads.filter((pad) => pad.condition === "sound");
  const rated = lots.filter((lot) => lot.rate_lbf_in !== null);
  const fitted = rated.filter((lot) => pads.some((pad) => pad.lot === lot.id));
  const unratedPads = sound.filter((pad) => !rated.some((lot) => lot.id === pad.lot)).length;
  const figures = {
    pull_lbf: null,
    usable_travel_in: null,
    limited_by: null,
    sound_pads: sound.length,
    unrated_pads: unratedPads,
    missing: missing(pads, sound, unratedPads, travelIn),
  };
  if (figures.missing.length > 0) return figures;
  const stretchIn = Math.min(travelIn, ...fitted.map((lot) => lot.tested_stretch_in));
  figures.usable_travel_in = stretchIn;
  figures.limited_by = stretchIn === travelIn ? "travel" : "tested stretch";
  figures.pull_lbf = exactSum(
    fitted.map((lot) => sound.filter((pad) => pad.lot === lot.id).length * forceOf(lot, stretchIn)),
  );
  return figures;
}

function missing(pads, sound, unratedPads, travelIn) {
  const words = [];
  if (pads.length === 0 || pads.some((pad) => !pad.condition)) words.push("a pad count");
  if (travelIn === null) words.push("a taped travel");
  if (sound.length > 0 && unratedPads === sound.length) {
    words.push("an approved rate of any lot that has a sound pad fitted");
  }
  return words;
}
