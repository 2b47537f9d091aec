// Sends what waits in the outbox: in order, once each by its id, one sender at a time on the
// phone. Runs in the page and in the service worker, so it touches no document.
import { REFUSED, SENDING, SENT, SIGN_IN, WAITING } from "./items.js";
import { dropSent, isUnsent, itemsInOrder, keepItem, mayOpenAgain, openAgain } from "./items.js";
import { NoSignal, askWithToken } from "./ledger.js";
import { SignedOut, sendPhoto } from "./photosending.js";
import { get } from "./store.js";

const LOCK = "at-the-hammer-sending";
const OFF = "No answer from the ledger: it goes as soon as there is signal.";

// Returns whether anything is left that waits for signal.
export async function sendAll(places) {
  // Waits for another tab's or the worker's turn to end, since that may have begun without signal.
  await (navigator.locks
    ? navigator.locks.request(LOCK, () => sendEach(places))
    : sendEach(places));
  return (await itemsInOrder()).some((item) => item.state === WAITING);
}

// Opens an item again to be corrected, unless it is just being sent. Returns whether it did.
export async function takeBack(id) {
  const take = async () => {
    const item = await get("outbox", id);
    if (!item || !mayOpenAgain(item)) return false;
    await openAgain(item);
    return true;
  };
  if (!navigator.locks) return take();
  return navigator.locks.request(LOCK, { ifAvailable: true }, (lock) => (lock ? take() : false));
}

async function sendEach(places) {
  // With no signal nothing is tried, and so may still be taken back.
  if (globalThis.navigator?.onLine === false) return;
  const me = (await get("kept", "pack"))?.user.id;
  await dropSent();
  for (const { id } of (await itemsInOrder()).filter(isUnsent)) {
    const item = await get("outbox", id);
    if (!item || item.state === REFUSED) continue;
    if (me !== undefined && item.user !== me) await keepForSigner(item);
    else if (!(await sendItem(places, item))) return;
  }
}

async function keepForSigner(item) {
  const trouble = `Signed by ${item.user_name}: sign in as them to send it.`;
  if (item.state !== SIGN_IN || item.trouble !== trouble) {
    await keepItem({ ...item, state: SIGN_IN, trouble });
  }
}

// Returns whether to go on with the next.
async function sendItem(places, given) {
  const held = holder(given);
  await held.change({ state: SENDING, trouble: "", tries: given.tries + 1 });
  try {
    if (!held.item.recorded) await sendRecord(places, held);
    if (held.item.recorded) await sendPhotos(places, held);
    return held.item.state !== SIGN_IN || held.item.isOthers === true;
  } catch (trouble) {
    const words = trouble instanceof NoSignal ? OFF : `It could not be sent (${trouble.message}).`;
    await held.change({ state: WAITING, trouble: words });
    return false;
  }
}

// An item and every change of it, kept as it is made, so that a sending cut off goes on from there.
function holder(item) {
  const held = {
    item,
    change: (changes) => {
      held.item = { ...held.item, ...changes };
      return keepItem(held.item);
    },
    changePhoto: (id, changes) => {
      const photos = held.item.photos.map((each) =>
        each.id === id ? { ...each, ...changes } : each,
      );
      return held.change({ photos });
    },
  };
  return held;
}

async function sendRecord(places, held) {
  const payload = { ...held.item.payload, sent_at: new Date().toISOString() };
  const { status, said } = await askWithToken(places, places[held.item.to ?? "inspections"], {
    method: "POST",
    body: JSON.stringify(payload),
    headers: { "Content-Type": "application/json" },
  });
  const isRecorded = (status === 200 || status === 201) && said?.outcome;
  await held.change(
    isRecorded
      ? { recorded: true, url: said.url, words: said.words, errors: {} }
      : fate(status, said, held.item),
  );
}

// What an answer other than “recorded” makes of an item.
function fate(status, said, item) {
  const errors = said?.errors ?? {};
  if (status === 401) return { state: SIGN_IN, trouble: "You are signed out.", isOthers: false };
  if (status === 403 && errors.signed_by) {
    const trouble = `Signed by ${item.user_name}: sign in as them to send it.`;
    return { state: SIGN_IN, trouble, isOthers: true };
  }
  if (status === 403 && said) return { state: SIGN_IN, trouble: allWords(errors), isOthers: true };
  if (status === 422 && said?.errors) return { state: REFUSED, errors, trouble: "" };
  if (status === 413) {
    return {
      state: REFUSED,
      errors: { "": [allWords(errors) || "This is too long: shorten what was written."] },
    };
  }
  const trouble = `The ledger is in trouble (it answered ${status}): it is tried again by itself.`;
  return { state: WAITING, trouble };
}

const allWords = (errors) => Object.values(errors).flat().join(" ");

async function sendPhotos(places, held) {
  for (const { id } of held.item.photos.filter((each) => !each.done && !each.refused)) {
    const kept = await get("photos", id);
    const say = (changes) => held.changePhoto(id, changes);
    try {
      if (kept) await sendPhoto(places, kept, say);
      else await say({ refused: "This photo is not on this phone any more." });
    } catch (trouble) {
      if (!(trouble instanceof SignedOut)) throw trouble;
      await held.change({ state: SIGN_IN, trouble: "You are signed out.", isOthers: false });
      return;
    }
  }
  await held.change(endOf(held.item));
}

function endOf(item) {
  if (item.photos.some((photo) => photo.refused)) return { state: REFUSED, trouble: "" };
  if (item.photos.some((photo) => !photo.done)) {
    return {
      state: WAITING,
      trouble: "The ledger did not take a photo: it is tried again by itself.",
    };
  }
  return { state: SENT, trouble: "", sent_at_ms: Date.now(), draft: null };
}
