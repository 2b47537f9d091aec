// The outbox as people see it: each signed inspection, how far it is, what can be done about it.
import { h, redraw } from "./elements.js";
import { REFUSED, SENDING, SENT, SIGN_IN, WAITING } from "./items.js";
import { isUnsent, leaveOutPhoto, mayOpenAgain, replacePhoto } from "./items.js";
import { NoPicture, shrink } from "./shrink.js";
import { capital, momentWords } from "./words.js";

// app: {items, pack, places, send(), correct(item)}. Returns {root, title, update}.
export function outboxScreen(app) {
  const list = h("ul", { class: "outbox-list" });
  const tally = h("p", { role: "status" });
  const now = h("button", { type: "button", class: "main", onclick: app.send }, "Send now");
  let drawn = "";
  const root = h(
    "div",
    {},
    h("h1", { tabindex: "-1" }, "Outbox"),
    tally,
    h("p", { class: "actions" }, now),
    list,
  );

  function update() {
    const state = JSON.stringify([app.items, app.isSending, new Date().getDate()]);
    if (state === drawn) return;
    drawn = state;
    tally.textContent = tallyWords(app.items);
    now.disabled =
      !app.items.some((item) => isUnsent(item) && item.state !== REFUSED) || app.isSending;
    redraw(
      list,
      [...app.items].reverse().map((item) => card(app, item)),
    );
  }

  update();
  return { root, title: "Outbox", update };
}

function tallyWords(items) {
  const of = (...states) => items.filter((item) => states.includes(item.state)).length;
  const parts = [
    [of(WAITING, SENDING), "to be sent"],
    [of(SIGN_IN), "to be sent once signed in"],
    [of(REFUSED), "refused, to be corrected"],
    [of(SENT), "sent"],
  ];
  const words = parts
    .filter(([number]) => number > 0)
    .map(([number, state]) => `${number} ${state}`);
  if (words.length > 0) return `${words.join(", ")}.`;
  return "Nothing waits here. What you sign at a unit comes here and goes to the ledger by itself.";
}

function card(app, item) {
  return h(
    "li",
    { class: `outbox-item ${item.state.replaceAll(" ", "-")}`, "data-item": item.id },
    h("h2", {}, h("bdi", {}, item.mark), `, ${item.kind}`),
    h("p", { class: "faint" }, `Signed ${momentWords(item.signed_at)} by ${item.user_name}`),
    item.summary && h("p", {}, item.summary),
    h(
      "p",
      { class: "state" },
      h("strong", {}, stateWords(item)),
      item.trouble && ` ${item.trouble}`,
    ),
    item.state === WAITING &&
      item.tries > 0 &&
      !item.recorded &&
      h(
        "p",
        { class: "faint small" },
        "It may have arrived all the same, so it is not taken back " +
          "any more: put it right on its record once it is there.",
      ),
    item.state === SENT && item.words && h("p", {}, item.words),
    errorWords(item),
    item.photos.map((photo, number) => photoWords(item, photo, number + 1)),
    h("p", { class: "actions" }, actions(app, item)),
  );
}

function stateWords(item) {
  if (item.state === SENDING)
    return item.recorded ? "Recorded; photos are being sent…" : "Is being sent…";
  if (item.state === WAITING) return item.recorded ? "Recorded; photos wait." : "Waits for signal.";
  if (item.state === REFUSED && item.recorded) return "Recorded; a photo was refused.";
  return `${capital(item.state)}.`;
}

function errorWords(item) {
  const words = Object.values(item.errors ?? {}).flat();
  return (
    words.length > 0 &&
    h(
      "ul",
      { class: "refusal" },
      words.map((each) => h("li", {}, each)),
    )
  );
}

function photoWords(item, photo, number) {
  const share = photo.size ? Math.floor((100 * photo.received) / photo.size) : 0;
  const far = photo.done ? "sent" : photo.received ? `${share} % sent` : "waits";
  if (!photo.refused) return h("p", { class: "small" }, `Photo ${number}: ${far}`);
  const wrong = h("span", { class: "error" });
  const input = h("input", {
    type: "file",
    accept: "image/*",
    class: "visually-hidden",
    onchange: change,
  });
  async function change() {
    try {
      await replacePhoto(item, photo.id, await shrink(input.files[0]));
    } catch (trouble) {
      wrong.textContent =
        trouble instanceof NoPicture ? trouble.message : "This phone has no room for it.";
    }
  }
  return h(
    "div",
    {},
    h("p", { class: "error" }, `Photo ${number}: ${photo.refused} `, wrong),
    h(
      "p",
      { class: "actions" },
      h("label", { class: "button" }, input, "Take it again"),
      h("button", { type: "button", onclick: () => leaveOutPhoto(item, photo.id) }, "Leave it out"),
    ),
  );
}

// Somebody else is signed in here: the sign-in page would only send them back.
function signInAction(app, isMine) {
  if (isMine || !app.pack || app.isSignedOut)
    return h("a", { class: "button main", href: app.places.signIn }, "Sign in");
  return h(
    "button",
    { type: "button", class: "main", onclick: app.changePerson },
    "Sign out, and in as them",
  );
}

function actions(app, item) {
  const isMine = item.user === app.pack?.user.id;
  return [
    item.state === SIGN_IN && signInAction(app, isMine),
    isMine &&
      mayOpenAgain(item) &&
      h(
        "button",
        {
          type: "button",
          class: item.state === REFUSED && "main",
          onclick: () => app.correct(item),
        },
        item.state === REFUSED ? "Correct it" : "Take it back",
      ),
    item.url && h("a", { class: "button", href: item.url }, "Its record"),
  ];
}
