// What every screen does that is signed: its button, and the way of what was signed to the outbox.
import { h } from "./elements.js";
import { dropSent, enterItem } from "./items.js";

// The button that signs, with the name it signs as.
export const signButtonOf = (draft, sign) =>
  h(
    "button",
    { type: "button", class: "main sign", onclick: sign },
    "Sign as ",
    h("bdi", {}, draft.user_name),
  );

// Puts what was signed in the outbox; where the phone is full, once what was sent has made room.
// Throws the trouble where it can't be kept even so.
export async function enterSigned(item) {
  await enterItem(item).catch(async (trouble) => {
    if (!trouble.isFull || (await dropSent(0)) === 0) throw trouble;
    await enterItem(item);
  });
}
