// Sends a photo in pieces, from wherever the ledger has it already.
import { askWithToken } from "./ledger.js";
import { write } from "./store.js";

const PIECE_BYTES = 128 * 1024;
const MOST_STEPS_BACK = 5;

export class SignedOut extends Error {}

// held: {id, blob}; say tells how far it is. Throws NoSignal and SignedOut.
export async function sendPhoto(places, held, say) {
  const url = `${places.photos}${held.id}/`;
  let here = await ask(places, url, { method: "GET" });
  let stepsBack = 0;
  while (!here.done && !here.refused && !here.later) {
    await say({ received: here.received, size: held.blob.size });
    const next = await sendPiece(places, url, held.blob, here.received);
    if (next.isStepBack && ++stepsBack > MOST_STEPS_BACK) return;
    here = next;
  }
  if (here.refused) await say({ refused: here.refused });
  if (!here.done) return;
  await say({ done: true, received: held.blob.size, size: held.blob.size });
  await write(["photos"], (of) => of("photos").delete(held.id));
}

function sendPiece(places, url, blob, offset) {
  return ask(places, url, {
    method: "PUT",
    body: blob.slice(offset, offset + PIECE_BYTES),
    headers: {
      "Content-Type": "application/octet-stream",
      "Upload-Offset": String(offset),
      "Upload-Length": String(blob.size),
    },
  });
}

async function ask(places, url, options) {
  const { status, said } = await askWithToken(places, url, options);
  if (status === 401 || status === 403) throw new SignedOut();
  if (said?.received !== undefined && (status < 300 || status === 409)) {
    return { received: said.received, done: said.done === true, isStepBack: status === 409 };
  }
  if (status === 422 || status === 413) {
    return {
      refused: said?.errors
        ? Object.values(said.errors).flat().join(" ")
        : "This photo is too large.",
    };
  }
  return { later: true };
}
