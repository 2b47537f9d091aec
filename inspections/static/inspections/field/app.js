// Puts the page together: what is kept, which screen is shown, when the outbox is sent.
import { isEmpty, newDraft, setKind } from "./draft.js";
import { h } from "./elements.js";
import { inspectionScreen } from "./inspection.js";
import { SENT, WAITING, isUnsent, itemsInOrder, listen, tellAll } from "./items.js";
import { NoSignal, fetchPack, signOut } from "./ledger.js";
import { outboxScreen } from "./outbox.js";
import { pullScreen } from "./pull.js";
import { isEmptyPull, isPull, newPull } from "./pulldraft.js";
import { readingScreen } from "./reading.js";
import { sendAll, takeBack } from "./sending.js";
import { NotKept, all, drop, get, put } from "./store.js";
import { unitScreen } from "./units.js";
import { startWorker } from "./workerstart.js";

const EVERY_MS = 30_000;
const SOON_MS = 2_000;
const STALE_MS = 10 * 60 * 1000;
const JUST_OPENED_MS = 10_000;
const main = document.getElementById("main");
const places = { ...document.body.dataset };
const app = {
  places,
  pack: null,
  drafts: [],
  items: [],
  search: "",
  isFetching: false,
  isSending: false,
  isOff: false,
  isSignedOut: false,
  isFull: false,
  newVersion: false,
  hand: {
    isLeft: false,
    words: () => (app.hand.isLeft ? "Strip on the right" : "Left-handed: strip on the left"),
    turn,
  },
  refresh,
  send,
  correct,
  signed,
  discard,
  changePerson,
};
let screen = null;
let worker = null;
let isSendAsked = false;
let retryMs = SOON_MS;
let routes = 0;

async function read() {
  app.pack = (await get("kept", "pack")) ?? null;
  app.drafts = await all("drafts");
  app.items = await itemsInOrder();
}

// Fetches what to take along, and finds who is signed in.
async function refresh() {
  if (app.isFetching) return;
  app.isFetching = true;
  update();
  try {
    const { status } = await fetchPack(places);
    app.isSignedOut = status === 401;
    app.isOff = status !== 200 && status !== 401;
    app.isFull = false;
  } catch (trouble) {
    app.isOff = trouble instanceof NoSignal;
    app.isFull = trouble instanceof NotKept;
  }
  app.isFetching = false;
  await read();
  update();
}

async function send() {
  isSendAsked = true;
  if (app.isSending || !app.items.some(isUnsent)) return;
  app.isSending = true;
  const before = app.items.filter((item) => item.state === SENT).length;
  // Once more where something was signed meanwhile.
  while (isSendAsked) {
    isSendAsked = false;
    await sendAll(places).catch(() => {});
  }
  app.isSending = false;
  await read();
  retrySoon();
  const sent = app.items.filter((item) => item.state === SENT);
  if (sent.length > before) {
    announce(`Sent. ${sent.at(-1).mark}: ${sent.at(-1).words}`);
    refresh();
  }
  update();
}

// A phone that has just found signal often loses it once more: soon again, then ever later.
function retrySoon() {
  const isWaiting = app.items.some((item) => item.state === WAITING);
  if (isWaiting && navigator.onLine && retryMs < EVERY_MS) {
    setTimeout(send, retryMs);
    retryMs *= 2;
  } else if (!isWaiting) retryMs = SOON_MS;
}

async function signed(item) {
  await read();
  announce(`${item.mark} signed. It waits in the outbox and is sent as soon as there is signal.`);
  location.hash = "outbox";
  worker?.sendLater();
  send();
}

async function correct(item) {
  if (await takeBack(item.id)) {
    await read();
    location.hash = `draft/${item.id}`;
  } else announce("It is being sent just now: look again in a moment.");
}

async function discard(draft) {
  await drop("drafts", draft.id);
  tellAll("drafts");
  location.hash = "";
}

// Signs out who is signed in, so that whoever signed what waits can sign in and send it.
async function changePerson() {
  if (
    !confirm(
      "You are signed out here, and what was taken along goes. " +
        "What is signed or begun on this phone stays. Go on?",
    )
  )
    return;
  if (!(await signOut(places))) return announce("No signal: signing out needs it.");
  location.href = places.signIn;
}

async function turn(event) {
  app.hand.isLeft = !app.hand.isLeft;
  event.target.textContent = app.hand.words();
  showHand();
  await put("kept", app.hand.isLeft, "left-handed").catch(() => {});
}

const showHand = () => document.documentElement.classList.toggle("left-handed", app.hand.isLeft);

function announce(words) {
  document.getElementById("told").textContent = words;
}

// The screen an address names: #unit/<housing>; #inspect/<housing>, with /<kind> where one is
// asked for; #pull/<commitment>, #draft/<id>, #outbox; else the units.
async function route() {
  const [name, key, kind] = location.hash.slice(1).split("/");
  if (!mayLeave()) return undefined;
  const asked = (routes += 1);
  await screen?.leave?.();
  await read();
  const draft = draftFor(name, key, kind && decodeURIComponent(kind));
  // Somebody went on elsewhere while it was read.
  if (asked !== routes) return undefined;
  if (draft) {
    if (name !== "draft") history.replaceState(null, "", `#draft/${draft.id}`);
    return show(isPull(draft) ? pullScreen(app, draft) : inspectionScreen(app, draft));
  }
  if (name === "outbox") return show(outboxScreen(app));
  if (name === "unit" && app.pack) return show(readingScreen(app, Number(key)));
  if (name === "inspect" && app.pack)
    announce("This unit is not among those on this phone: fetch again while there is signal.");
  if (name === "pull" && app.pack)
    announce("This commitment is not on this phone: fetch again while there is signal.");
  return show(unitScreen(app));
}

// What this phone would not keep is in the open form only: it is not left unasked.
function mayLeave() {
  if (screen?.isKept?.() !== false) return true;
  if (
    confirm(
      "What you typed could not be kept on this phone " +
        "and is lost if you leave this form. Leave it?",
    )
  )
    return true;
  history.replaceState(null, "", screen.address);
  return false;
}

function draftFor(name, key, kind) {
  const mine = app.drafts.filter((draft) => draft.user === app.pack?.user.id);
  if (name === "draft") return mine.find((draft) => draft.id === key);
  if (name === "pull") return pullFor(mine, key);
  const unit = app.pack?.units.find((each) => String(each.id) === key);
  if (name !== "inspect" || !unit) return undefined;
  navigator.storage?.persist?.();
  const begun = mine.find((draft) => !isPull(draft) && draft.housing === unit.id);
  if (begun && !isEmpty(begun)) return begun;
  // Opened once and nothing entered: it would only keep an old time.
  if (begun) drop("drafts", begun.id).catch(() => {});
  const draft = newDraft(app.pack, unit);
  return kind in app.pack.checklists ? setKind(draft, app.pack, kind) : draft;
}

function pullFor(mine, key) {
  const commitment = app.pack?.commitments?.find((each) => String(each.id) === key);
  if (!commitment) return undefined;
  navigator.storage?.persist?.();
  const begun = mine.find((draft) => isPull(draft) && draft.commitment.id === commitment.id);
  if (begun && !isEmptyPull(begun)) return begun;
  if (begun) drop("drafts", begun.id).catch(() => {});
  return newPull(app.pack, commitment);
}

function show(next) {
  const isFirst = screen === null;
  screen = next;
  document.title = `${next.title} · Line-Pull Ledger`;
  main.replaceChildren(next.root);
  scrollTo(0, 0);
  if (!isFirst) main.querySelector("h1").focus();
  next.opened?.();
  update();
}

function update() {
  screen?.update?.();
  const unsent = app.items.filter(isUnsent).length;
  const count = document.getElementById("outbox-count");
  count.textContent = unsent ? ` (${unsent})` : "";
  for (const link of document.querySelectorAll(".site-head nav a[href^='#']")) {
    const isHere =
      link.hash === (screen?.title === "Outbox" ? "#outbox" : "#") ||
      (link.hash === "" && ["Units", "Unit"].includes(screen?.title));
    if (isHere) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  const signal = document.getElementById("signal");
  const words = h("span", {}, signalWords());
  if (words.textContent !== signal.textContent) signal.replaceChildren(words);
}

function signalWords() {
  if (app.isSignedOut)
    return [
      "Signed out. ",
      h("a", { href: places.signIn }, "Sign in"),
      " to send and to fetch again. What is here stays.",
    ];
  if (app.isOff || !navigator.onLine) return ["No signal. All is kept on this phone."];
  return [worker?.isReady ? "Connected. Opens without signal too." : "Connected to the ledger."];
}

// At once where the page was just opened and nothing is being entered, and once only; else when
// it is asked for, or the page is opened next.
function useNewVersion() {
  const isForm = Boolean(screen?.isKept);
  if (!app.newVersion || isForm || app.search || performance.now() > JUST_OPENED_MS) return;
  if (sessionStorage.getItem("new-version")) return;
  sessionStorage.setItem("new-version", "taken");
  app.takeNewVersion?.();
}

function isStale() {
  return !app.pack || Date.now() - Date.parse(app.pack.made_at) > STALE_MS;
}

async function wake() {
  await read();
  update();
  if (document.visibilityState !== "visible") return;
  if (isStale() || app.isSignedOut) await refresh();
  send();
}

function watchPhone() {
  addEventListener("hashchange", route);
  addEventListener("online", () => {
    retryMs = SOON_MS;
    refresh().then(send);
  });
  addEventListener("offline", update);
  document.addEventListener("visibilitychange", wake);
  addEventListener("beforeunload", (event) => {
    if (screen?.isKept?.() === false) event.preventDefault();
  });
  listen(async () => {
    await read();
    update();
  });
  setInterval(() => {
    update();
    if (app.items.some((item) => item.state === WAITING)) send();
  }, EVERY_MS);
  document.querySelector(".skip").addEventListener("click", (event) => {
    event.preventDefault();
    main.focus();
  });
}

// The form that keeps nothing on the phone, of the unit that was asked for.
function plainForm() {
  const [name, key] = location.hash.slice(1).split("/");
  const [form, words] =
    {
      inspect: [places.plainForm, "Inspect by the plain form"],
      pull: [places.plainPull, "Record it by the plain form"],
    }[name] ?? [];
  if (!form) return "";
  return h("a", { class: "button", href: form.replace("/0/", `/${Number(key)}/`) }, words);
}

async function start() {
  try {
    app.hand.isLeft = (await get("kept", "left-handed")) ?? false;
    showHand();
    watchPhone();
    await route();
  } catch (trouble) {
    main.replaceChildren(
      h("h1", {}, "Nothing can be kept here"),
      h(
        "p",
        { class: "caution" },
        `This browser keeps nothing for this page (${trouble.message}). ` +
          "Leave private browsing, or free some room, then open it again.",
      ),
      h("p", {}, plainForm()),
    );
    return;
  }
  worker = await startWorker(places, () => {
    app.newVersion = worker?.isNewer() ?? false;
    useNewVersion();
    update();
  });
  app.takeNewVersion = worker.takeOver;
  app.newVersion = worker.isNewer();
  useNewVersion();
  await refresh();
  if (screen.title === "Units" && /^#(inspect|pull)\//.test(location.hash)) await route();
  await send();
}

start();
