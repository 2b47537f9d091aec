// Measured numbers as people read and type them, in the reader's units; stored in US customary.
export const LBF_PER_TON = 2000;
const KN_PER_LBF = 0.0044482216152605;
const MM_PER_IN = 25.4;
const FRACTION = /^(?:(?<whole>\d+)[\s-]+)?(?<over>\d+)\s*\/\s*(?<under>\d+)\s*(?:"|″|in)?$/;
const INCHES = /\s*(?:"|″|in)\s*$/;
const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$/;

export const lengthUnit = (system) => (system === "si" ? "mm" : "in");

// Half to even, as the server rounds.
function whole(value) {
  const floor = Math.floor(value);
  const over = value - floor;
  if (over !== 0.5) return over < 0.5 ? floor : floor + 1;
  return floor % 2 === 0 ? floor : floor + 1;
}

// With thousands set off and no needless zeros after the point.
export function plainNumber(value, places) {
  const scale = 10 ** places;
  const isTie = Math.abs((value * scale) % 1) === 0.5 && (value * scale) / scale === value;
  const text = (isTie ? whole(value * scale) / scale : value).toFixed(places);
  return grouped(text.includes(".") ? text.replace(/\.?0+$/, "") : text);
}

function grouped(text) {
  const [front, back] = text.split(".");
  const set = front.replace(/\B(?=(\d{3})+$)/g, ",");
  return back ? `${set}.${back}` : set === "-0" ? "0" : set;
}

export function lengthWords(inches, system, places = system === "si" ? 0 : 3) {
  const shown = system === "si" ? inches * MM_PER_IN : inches;
  return `${plainNumber(shown, places)} ${lengthUnit(system)}`;
}

export const storedLength = (shown, system) => (system === "si" ? shown / MM_PER_IN : shown);

// A line pull as read aloud: "12.4 tons (24,800 lbf)", or "110.3 kN" in SI.
export function pullWords(pullLbf, system) {
  if (system === "si") return `${plainNumber(stepped(pullLbf * KN_PER_LBF, 0.1), 1)} kN`;
  const tons = grouped(stepped(pullLbf / LBF_PER_TON, 0.1).toFixed(1));
  return `${tons} tons (${plainNumber(stepped(pullLbf, 1), 0)} lbf)`;
}

const stepped = (value, step) => whole(value / step + 1e-9) * step;

// Reads a plain decimal number: {value}, or {words} that say what would do.
export function readNumber(text, example) {
  const plain = text.trim().replace("\u2212", "-");
  if (plain.includes(",")) {
    const how = "write decimals with a point and thousands without a comma, such as";
    return { words: `“${short(text)}” has a comma: ${how} ${example}.` };
  }
  if (!NUMBER.test(plain))
    return { words: `“${short(text)}” is not a number: give one such as ${example}.` };
  return { value: Number(plain) };
}

// Reads a length as it was taped: in inches a fraction too, such as 5 1/2 or 5-1/2".
export function readLength(text, system, example) {
  const taped = system === "us" && FRACTION.exec(text.trim());
  if (!taped) return readNumber(system === "us" ? text.replace(INCHES, "") : text, example);
  const { whole: front = "0", over, under } = taped.groups;
  return Number(under) > 0 ? { value: Number(front) + over / under } : readNumber(text, example);
}

export function short(text) {
  const letters = [...text];
  return letters.length <= 24 ? text : `${letters.slice(0, 24).join("")}…`;
}
