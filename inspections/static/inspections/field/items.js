// The outbox's items: what is signed and not yet on record, or lately gone there.
import { all, drop, write } from "./store.js";

export const WAITING = "waiting";
export const SENDING = "sending";
export const SENT = "sent";
export const REFUSED = "refused";
export const SIGN_IN = "sign in to send";
const SENT_KEPT_MS = 7 * 24 * 3600 * 1000;

const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("at-the-hammer") : null;

// Tells this page and every other of the phone that what is kept has changed.
export function tellAll(what) {
  channel?.postMessage(what);
  globalThis.dispatchEvent(new CustomEvent("kept-changed", { detail: what }));
}

export function listen(hear) {
  channel?.addEventListener("message", (event) => hear(event.data));
  globalThis.addEventListener("kept-changed", (event) => hear(event.detail));
}

// In the order they were signed.
export async function itemsInOrder() {
  return (await all("outbox")).sort((one, other) => one.signed_at.localeCompare(other.signed_at));
}

export const isUnsent = (item) => item.state !== SENT;

// What is signed of a unit on this phone and not in what it took along.
export const unsentOf = (items, housing) =>
  items.filter((item) => isUnsent(item) && !item.recorded && !item.to && item.housing === housing);

// What takes a unit out of service and is signed on this phone, but not in the ledger yet.
export function gravestWaiting(items, housing) {
  return unsentOf(items, housing)
    .flatMap((item) => item.payload.findings)
    .filter((finding) => finding.severity === "stop");
}

// A signed draft becomes an item, in one stroke; its photos stay where they are.
export async function enterItem(item) {
  await write(["outbox", "drafts"], (of) => {
    of("outbox").put(item);
    of("drafts").delete(item.id);
  });
  tellAll("outbox");
}

// A refused item, or one never tried, becomes a draft again under its own id.
export async function openAgain(item) {
  await write(["outbox", "drafts"], (of) => {
    of("drafts").put({ ...item.draft, errors: item.errors ?? {} });
    of("outbox").delete(item.id);
  });
  tellAll("outbox");
}

export const mayOpenAgain = (item) =>
  !item.recorded && (item.state === REFUSED || (item.state !== SENDING && item.tries === 0));

// Makes room: photos of what was sent are on record and need not stay.
export async function dropSent(olderThanMs = SENT_KEPT_MS) {
  const old = Date.now() - olderThanMs;
  const gone = (await all("outbox")).filter(
    (item) => item.state === SENT && item.sent_at_ms <= old,
  );
  for (const item of gone) await drop("outbox", item.id);
  return gone.length;
}

export async function keepItem(item) {
  await write(["outbox"], (of) => of("outbox").put(item));
  tellAll("outbox");
}

// Leaves out a photo the ledger refused; the inspection itself is on record.
export async function leaveOutPhoto(item, id) {
  const photos = item.photos.filter((photo) => photo.id !== id);
  await write(["outbox", "photos"], (of) => {
    of("outbox").put({ ...item, photos, state: WAITING });
    of("photos").delete(id);
  });
  tellAll("outbox");
}

// Puts another picture in the place of one the ledger refused, under its name.
export async function replacePhoto(item, id, blob) {
  const photos = item.photos.map((photo) =>
    photo.id === id ? { id, caption: photo.caption } : photo,
  );
  await write(["outbox", "photos"], (of) => {
    of("outbox").put({ ...item, photos, state: WAITING });
    of("photos").put({ id, draft: item.id, blob });
  });
  tellAll("outbox");
}
