// Times, days and counts in words.
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const two = (number) => String(number).padStart(2, "0");

export const clockWords = (moment) => `${two(moment.getHours())}:${two(moment.getMinutes())}`;

function dateWords(day, now) {
  const words = `${day.getDate()} ${MONTHS[day.getMonth()]}`;
  return day.getFullYear() === now.getFullYear() ? words : `${words} ${day.getFullYear()}`;
}

const daysBetween = (from, to) =>
  Math.round((new Date(to).setHours(0, 0, 0, 0) - new Date(from).setHours(0, 0, 0, 0)) / 86_400_000);

// "08:10 today", "17:02 yesterday", "08:10 on 12 Mar".
export function momentWords(given, now = new Date()) {
  const moment = new Date(given);
  const days = daysBetween(moment, now);
  const when = { 0: "today", 1: "yesterday" }[days] ?? `on ${dateWords(moment, now)}`;
  return `${clockWords(moment)} ${when}`;
}

// For an input of type datetime-local.
export function localMoment(moment) {
  const day = `${moment.getFullYear()}-${two(moment.getMonth() + 1)}-${two(moment.getDate())}`;
  return `${day}T${clockWords(moment)}`;
}

export const counted = (number, one, many = `${one}s`) => `${number} ${number === 1 ? one : many}`;

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
