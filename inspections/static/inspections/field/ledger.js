// Speaks to the ledger. Places: {pack, inspections, photos} as the page and the worker name them.
import { get, put, write } from "./store.js";

const PATIENCE_MS = 45_000;

// No answer of the ledger's: no signal, or something in between that answers for it.
export class NoSignal extends Error {}

export async function ask(url, options = {}) {
  let answer;
  try {
    const signal = AbortSignal.timeout?.(PATIENCE_MS);
    answer = await fetch(url, { cache: "no-store", redirect: "manual", signal, ...options });
  } catch {
    throw new NoSignal();
  }
  const said = await answer.json().catch(() => null);
  // A wireless network's own sign-in page answers 200, or sends elsewhere: not the ledger.
  if (said === null && (answer.ok || answer.type === "opaqueredirect")) throw new NoSignal();
  return { status: answer.status, said };
}

// Sends with the token that forms carry, fetched again once where the ledger has changed it.
export async function askWithToken(places, url, options) {
  const token = async () => ({ "X-CSRFToken": (await get("kept", "csrf")) ?? "" });
  const first = await ask(url, { ...options, headers: { ...options.headers, ...(await token()) } });
  if (first.status !== 403 || first.said !== null) return first;
  const fetched = await fetchPack(places);
  if (fetched.status !== 200) return fetched;
  return ask(url, { ...options, headers: { ...options.headers, ...(await token()) } });
}

// Fetches what the phone takes along and keeps it. The token is kept apart from it.
export async function fetchPack(places) {
  const { status, said } = await ask(places.pack);
  if (status === 200) {
    const { csrf, ...pack } = said;
    await put("kept", csrf, "csrf");
    await put("kept", { ...pack, clock_off_ms: Date.now() - Date.parse(pack.made_at) }, "pack");
  }
  return { status, said };
}

// Now by the ledger's clock, as far as the phone's was off when it last took the units along; by
// the phone's own where that is later, since it may have been set right since.
export function ledgerNow(pack, now = new Date()) {
  return new Date(Math.max(now, now - (pack.clock_off_ms ?? 0)));
}

// Returns whether it went through. What was taken along goes with the person, the hand stays.
export async function signOut(places) {
  if (!(await isSignedOut(places))) {
    await fetchPack(places).catch(() => {});
    if (!(await isSignedOut(places))) return false;
  }
  await write(["kept"], (of) => {
    of("kept").delete("pack");
    of("kept").delete("csrf");
  });
  return true;
}

// The ledger leads elsewhere once it is done; an old token it refuses.
async function isSignedOut(places) {
  const headers = { "X-CSRFToken": (await get("kept", "csrf")) ?? "" };
  const answer = await fetch(places.signOut, { method: "POST", redirect: "manual", headers }).catch(
    () => null,
  );
  return answer?.type === "opaqueredirect" || answer?.ok === true;
}
