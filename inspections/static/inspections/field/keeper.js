// Keeps a draft at every keystroke: one saving at a time, and once more where it changed since.
import { dropSent } from "./items.js";
import { put } from "./store.js";

// say(words): "" once kept; else why not. Returns {changed, settle, isKept}.
export function keeper(draft, say) {
  let running = null;
  let isDue = false;
  let isKept = true;

  async function run() {
    while (isDue) {
      isDue = false;
      try {
        await keep();
        isKept = true;
        say("");
      } catch (trouble) {
        isKept = false;
        say(fullWords(trouble));
      }
    }
    running = null;
  }

  async function keep() {
    draft.changed_at = new Date().toISOString();
    try {
      await put("drafts", structuredClone(draft));
    } catch (trouble) {
      // What is on record already gives way to what is not.
      if (!trouble.isFull || (await dropSent(0).catch(() => 0)) === 0) throw trouble;
      await put("drafts", structuredClone(draft));
    }
  }

  function changed() {
    isDue = true;
    running ??= run();
    return running;
  }

  return { changed, settle: () => running ?? Promise.resolve(), isKept: () => isKept };
}

export function fullWords(trouble) {
  const why = trouble.isFull
    ? "This phone has no room left"
    : `This phone keeps nothing (${trouble.message})`;
  return (
    `${why}: what you type is in this open page only. Leave ` +
    "it open, free some room on the phone, then try again."
  );
}
