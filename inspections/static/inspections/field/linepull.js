// The line pull of a unit by the ledger's own formula (ratings/mechanics/linepull.py, pull_at). One
// table of cases tests both, to the last digit.

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

// The largest pull that the pads carry at the travel, or at a lot's tested stretch below it: no
// more than the ledger will say, which takes the stretch where the working capacity is largest.
// pads: [{condition, lot, side}], condition "" where not counted; lots: [{id, rate_lbf_in,
// tested_stretch_in, curve, kept_share, strain_limit_in}], rate null where unrated. isGuided:
// whether both sides stretch alike; else twice the weaker side counts. proofRatio: what a proof
// pull measured of what pads should give. pull_lbf is null where `missing` says why.
export function linePull(pads, lots, travelIn, { isGuided = false, proofRatio = 1 } = {}) {
  const sound = pads.filter((pad) => pad.condition === "sound");
  const rated = lots.filter((lot) => lot.rate_lbf_in !== null);
  const fitted = rated.filter((lot) => pads.some((pad) => pad.lot === lot.id));
  const unratedPads = sound.filter((pad) => !rated.some((lot) => lot.id === pad.lot)).length;
  const figures = {
    pull_lbf: null,
    usable_travel_in: null,
    limited_by: null,
    weaker_side: "",
    sound_pads: sound.length,
    unrated_pads: unratedPads,
    short_pads: 0,
    missing: missing(pads, sound, unratedPads, travelIn),
  };
  if (figures.missing.length > 0) return figures;
  const strained = lots.filter((lot) => sound.some((pad) => pad.lot === lot.id));
  const limits = strained.map((lot) => lot.strain_limit_in ?? Infinity);
  const mostIn = Math.min(travelIn, ...limits);
  const tested = fitted.map((lot) => lot.tested_stretch_in).filter((each) => each < mostIn);
  let best = null;
  // Of stretches alike the longest.
  for (const stretchIn of [mostIn, ...tested.sort((one, other) => other - one)]) {
    const found = pullAt(sound, fitted, stretchIn, isGuided);
    if (best === null || found.pull_lbf > best.pull_lbf) best = { ...found, stretchIn };
  }
  figures.usable_travel_in = best.stretchIn;
  figures.limited_by = best.stretchIn === mostIn ? "travel" : "tested stretch";
  figures.weaker_side = best.weaker_side;
  figures.pull_lbf = Math.min(best.pull_lbf, proofRatio * best.pull_lbf);
  figures.short_pads = sound.filter((pad) =>
    fitted.some((lot) => lot.id === pad.lot && lot.tested_stretch_in < best.stretchIn),
  ).length;
  return figures;
}

// What the pads of lots tested at least so far carry there together.
function pullAt(sound, fitted, stretchIn, isGuided) {
  const counting = fitted.filter((lot) => lot.tested_stretch_in >= stretchIn);
  const pullOf = (pads) =>
    exactSum(
      counting.map(
        (lot) =>
          pads.filter((pad) => pad.lot === lot.id).length *
          ((lot.kept_share ?? 1) * forceOf(lot, stretchIn)),
      ),
    );
  if (isGuided) return { pull_lbf: pullOf(sound), weaker_side: "" };
  const [a, b] = ["A", "B"].map((side) => pullOf(sound.filter((pad) => pad.side === side)));
  return { pull_lbf: 2 * Math.min(a, b), weaker_side: a === b ? "" : a < b ? "A" : "B" };
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
