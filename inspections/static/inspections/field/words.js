// Times, days and counts in words.
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const two = (number) => String(number).padStart(2, "0");

const hourWords = (moment) => `${two(moment.getHours())}:${two(moment.getMinutes())}`;

function dateWords(day, now) {
  const words = `${day.getDate()} ${MONTHS[day.getMonth()]}`;
  return day.getFullYear() === now.getFullYear() ? words : `${words} ${day.getFullYear()}`;
}

const daysBetween = (from, to) =>
  Math.round(
    (new Date(to).setHours(0, 0, 0, 0) - new Date(from).setHours(0, 0, 0, 0)) / 86_400_000,
  );

// "08:10 today", "17:02 yesterday", "08:10 on 12 Mar".
export function momentWords(given, now = new Date()) {
  const moment = new Date(given);
  const days = daysBetween(moment, now);
  const when = { 0: "today", 1: "yesterday" }[days] ?? `on ${dateWords(moment, now)}`;
  return `${hourWords(moment)} ${when}`;
}

// For an input of type datetime-local.
export function localMoment(moment) {
  const day = `${moment.getFullYear()}-${two(moment.getMonth() + 1)}-${two(moment.getDate())}`;
  return `${day}T${hourWords(moment)}`;
}

// How long ago something was: "just now", "5 minutes ago", "3 hours ago", "2 days ago".
export function ageOf(span) {
  const minutes = Math.floor(Math.max(0, span) / 60_000);
  if (minutes < 1) return "just now";
  if (minutes < 120) return `${counted(minutes, "minute")} ago`;
  if (minutes < 2 * DAY_MIN) return `${counted(Math.floor(minutes / 60), "hour")} ago`;
  return `${counted(Math.floor(minutes / DAY_MIN), "day")} ago`;
}

const DAY_MIN = 24 * 60;

// "" where the phone's clock is right; else how far it was off when it last met the ledger's.
export function clockWords({ clock_off_ms: off = 0 }) {
  const minutes = Math.round(Math.abs(off) / 60_000);
  if (minutes <= 10) return "";
  const span =
    minutes < 120
      ? counted(minutes, "minute")
      : minutes < 2 * DAY_MIN
        ? counted(Math.round(minutes / 60), "hour")
        : counted(Math.round(minutes / DAY_MIN), "day");
  return (
    `This phone’s clock is ${span} ${off > 0 ? "ahead of" : "behind"} ` +
    "the ledger’s. Send what waits here, then set it right. " +
    "A “Seen at” you leave alone is put right by that much " +
    "as it is sent; one you set by hand is taken as you set it."
  );
}

// Why a unit's figures may not be relied on, "" where they may: it was being rated again as they
// were taken along.
export function ratedAgainWords({ rated_again: since = {} }, unit) {
  return unit in since
    ? `since ${momentWords(since[unit])}. Its figures here are of before: fetch the units again ` +
        "with a signal before it goes out or is pulled on."
    : "";
}

export const counted = (number, one, many = `${one}s`) => `${number} ${number === 1 ? one : many}`;

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
