// Measured numbers as people read and type them, in the reader's units; stored in US customary.
// Factors and symbols come with the page: the site has them in one place.
const FRACTION = /^(?:(?<whole>\d+)[\s-]+)?(?<over>\d+)\s*\/\s*(?<under>\d+)\s*(?:"|″|in)?$/;
const INCHES = /\s*(?:"|″|in)\s*$/;
const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$/;

const scale = (name, system) => JSON.parse(document.body.dataset.quantities)[name][system];

export const unitOf = (name, system) => scale(name, system).symbol;

export const lengthUnit = (system) => scale("length", system).symbol;

// Half to even, as the server rounds.
function whole(value) {
  const floor = Math.floor(value);
  const over = value - floor;
  if (over !== 0.5) return over < 0.5 ? floor : floor + 1;
  return floor % 2 === 0 ? floor : floor + 1;
}

// With thousands set off and no needless zeros after the point.
export function plainNumber(value, places) {
  const power = 10 ** places;
  const isTie = Math.abs((value * power) % 1) === 0.5 && (value * power) / power === value;
  const text = (isTie ? whole(value * power) / power : value).toFixed(places);
  return grouped(text.includes(".") ? text.replace(/\.?0+$/, "") : text);
}

function grouped(text) {
  const [front, back] = text.split(".");
  const set = front.replace(/\B(?=(\d{3})+$)/g, ",");
  return back ? `${set}.${back}` : set === "-0" ? "0" : set;
}

export function lengthWords(inches, system, places = system === "si" ? 0 : 3) {
  const { factor, symbol } = scale("length", system);
  return `${plainNumber(inches * factor, places)} ${symbol}`;
}

// To as many places as a person reads of it.
const PLACES = {
  force: { us: 0, si: 1 },
  weight: { us: 0, si: 0 },
  depth: { us: 1, si: 2 },
  length: { us: 2, si: 0 },
};

export function quantityWords(name, stored, system) {
  const { factor, symbol } = scale(name, system);
  return `${plainNumber(stored * factor, PLACES[name][system])} ${symbol}`;
}

export const storedAs = (name, shown, system) => shown / scale(name, system).factor;

// Bounds of what is stored, as they are in the reader's units.
export const shownBounds = (name, [least, most], system) =>
  [least, most].map((each) => each * (name ? scale(name, system).factor : 1));

export const storedLength = (shown, system) => shown / scale("length", system).factor;

// What a force read aloud is rounded to, in lbf or kN: the first, unless that would mislead. As
// fleet/quantities.py has it.
const STEPS = { us: [200, 20, 2, 1], si: [0.1, 0.01, 0.001] };
const LISTED_STEP = { us: 1, si: 0.01 };
const LBF_PER_US_TON = 2000;

// A line pull as read aloud: "12.4 tons (24,800 lbf)", or "110.3 kN" in SI. Rounded once, the lbf
// being those of the tons shown; beside a listing, so that it stands on the same side of it.
export const pullWords = (pullLbf, system, listedLbf = null) =>
  forceWords(pullLbf, system, listedLbf, [whole, Math.floor]);

// A working capacity likewise, and never rounded up.
export const capacityWords = (capacityLbf, system, listedLbf = null) =>
  forceWords(capacityLbf, system, listedLbf, [Math.floor]);

function forceWords(pullLbf, system, listedLbf, ways) {
  const shown = inSystem(pullLbf, system);
  const rounded = STEPS[system].flatMap((step) => ways.map((way) => stepped(shown, step, way)));
  if (listedLbf === null) return aloud(rounded[0], system);
  const listed = listedShown(listedLbf, system);
  const serves = (each) => each >= listed - 1e-6 === pullLbf >= listedLbf;
  return aloud(rounded.find(serves) ?? rounded.at(-1), system);
}

// A listed rating likewise, as it was entered and never less.
export const listedWords = (listedLbf, system) => aloud(listedShown(listedLbf, system), system);

function listedShown(listedLbf, system) {
  const step = LISTED_STEP[system];
  const steps = inSystem(listedLbf, system) / step;
  const isAsEntered = Math.abs(steps - whole(steps)) < 1e-6;
  return (isAsEntered ? whole(steps) : Math.ceil(steps)) * step;
}

const inSystem = (lbf, system) => (system === "si" ? lbf * scale("pull", "si").factor : lbf);

function aloud(shown, system) {
  const { symbol } = scale("pull", system);
  if (system === "si") return `${plainNumber(shown, 3)} ${symbol}`;
  const [front, tenths] = (shown / LBF_PER_US_TON).toFixed(4).split(".");
  const tons = `${grouped(front)}.${tenths.replace(/0+$/, "") || "0"}`;
  return `${tons} ${symbol} (${plainNumber(shown, 0)} lbf)`;
}

const stepped = (value, step, way) => way(value / step + 1e-9) * step;

// Thousands of three digits each, set off by commas or by points.
const COMMA_THOUSANDS = /^[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d*)?$/;
const POINT_THOUSANDS = /^[+-]?[1-9]\d{0,2}(\.\d{3})+(,\d*)?$/;
const ROUND_THOUSANDS = /^[+-]?\d{1,3},000$/;
// Thousands this many times beyond what a field takes are a figure too large, not decimals.
const NEAR = 10;
const ANY = [-Infinity, Infinity];

// Reads a number by the rule of fleet/numbers.py: a comma that can mean one thing is taken, all
// else is asked about. least and most choose between two readings, and judge none; so does near,
// what a meter showed last. {value}, or {words} that say what would do.
export function readNumber(text, example, [least, most] = ANY, near = null) {
  const plain = text.trim().replace("\u2212", "-");
  const hasPoint = NUMBER.test(plain) || COMMA_THOUSANDS.test(plain);
  const byPoint = hasPoint ? Number(plain.replaceAll(",", "")) : null;
  const withPoint = plain.replaceAll(".", "").replace(",", ".");
  const byComma = hasDecimalComma(plain) ? Number(withPoint) : null;
  const readings = [byPoint, byComma].filter((each) => each !== null);
  const quoted = `“${short(text)}”`;
  const such = `give one such as ${example}.`;
  if (readings.length === 0) {
    const trouble = plain.includes(",")
      ? "has a comma that sets off no thousands"
      : "is not a number";
    return { words: `${quoted} ${trouble}: ${such}` };
  }
  if (!readings.every(Number.isFinite))
    return { words: `${quoted} is too large for any number here: ${such}` };
  const likely = readings.filter((each) => each >= least && each <= most);
  const isTooMuch =
    byPoint !== null &&
    likely.length === 1 &&
    likely[0] === byComma &&
    byPoint > most &&
    byPoint <= NEAR * most;
  if (readings.length === 1 || (likely.length !== 2 && !isTooMuch))
    return { value: likely[0] ?? readings[0] };
  if (!isTooMuch && ROUND_THOUSANDS.test(plain)) return { value: byPoint };
  const isNear = (each) => near > 0 && near / 2 <= each && each <= 2 * near;
  const close = readings.filter(isNear);
  if (!isTooMuch && close.length === 1) return { value: close[0] };
  return { words: `${quoted} reads two ways: write ${byPoint} or ${byComma}, whichever it is.` };
}

function hasDecimalComma(plain) {
  if (!plain.includes(",")) return false;
  const isBare = !plain.includes(".") && NUMBER.test(plain.replace(",", "."));
  return isBare || POINT_THOUSANDS.test(plain);
}

// Reads a length as it was taped: in inches a fraction too, such as 5 1/2 or 5-1/2".
export function readLength(text, system, example, bounds = ANY) {
  const taped = system === "us" && FRACTION.exec(text.trim());
  if (!taped) return readNumber(system === "us" ? text.replace(INCHES, "") : text, example, bounds);
  const { whole: front = "0", over, under } = taped.groups;
  return Number(under) > 0
    ? { value: Number(front) + over / under }
    : readNumber(text, example, bounds);
}

export function short(text) {
  const letters = [...text];
  return letters.length <= 24 ? text : `${letters.slice(0, 24).join("")}…`;
}
