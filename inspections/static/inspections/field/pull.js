// What happened when a pile was pulled: entered beside the crane, kept as it is typed, then signed.
import { h } from "./elements.js";
import { choices, field } from "./fields.js";
import { hold } from "./inspection.js";
import { WAITING } from "./items.js";
import { fullWords, keeper } from "./keeper.js";
import { ledgerNow } from "./ledger.js";
import { photoStrip } from "./photos.js";
import { checkPull, doubtsOf } from "./pullchecks.js";
import {
  METHODS,
  NOT_READ,
  OUTCOMES,
  SOURCES,
  groupOf,
  isEmptyPull,
  pullFieldsOf,
  pullPayload,
} from "./pulldraft.js";
import { quantityWords, unitOf } from "./quantities.js";
import { enterSigned, signButtonOf } from "./signing.js";
import { drop } from "./store.js";
import { troubleList } from "./troubles.js";
import { capital, clockWords, ratedAgainWords } from "./words.js";

// app: {pack, signed(item), discard(draft)}. Returns {root, title, leave}.
export function pullScreen(app, draft) {
  const { commitment, system } = draft;
  const { pack } = app;
  const rated = ratedAgainWords(pack, commitment.housing);
  // A draft begun before this was asked has no place for it.
  draft.watched_by ??= "";
  const troubles = troubleList(allFields);
  const full = h("div", { class: "errors full", role: "alert", hidden: true });
  const keep = keeper(draft, sayKept);
  const isOneGroup = commitment.piles.length === 1;
  const figure = (name, label, quantity, more = {}) =>
    field(label, input(name, { inputmode: "decimal" }), {
      optional: true,
      unit: quantity && unitOf(quantity, system),
      ...more,
    });
  const picked = (name, label, given) =>
    choices(label, given, draft[name], (value) => {
      draft[name] = value;
      picks[name].show();
      changed();
    });
  const picks = {
    outcome: picked("outcome", "Did it come", OUTCOMES),
    method: picked("method", "How it was pulled", METHODS),
    load_source: picked("load_source", "Hook load read from", SOURCES),
  };
  const group = field("Which piles", groupSelect());
  const typed = {
    pile_mark: field("Which pile, by its number or mark", input("pile_mark")),
    pulled_at: field("Pulled at", input("pulled_at", { type: "datetime-local" })),
    hook_load_lbf: figure("hook_load_lbf", "Highest hook load", "force", {
      optional: false,
      help: "What the indicator showed, all weights in it. Not the pull at the pads.",
    }),
    tare_lbf: figure("tare_lbf", "Indicator with the hammer hanging free", "force", {
      help: "0 where it was set to nothing there. Blank: the weights on record are taken.",
    }),
    stretch_in: figure("stretch_in", "Stretch at break-out", "length"),
    minutes: figure("minutes", "Minutes from line taut", ""),
    toe_depth_ft: figure("toe_depth_ft", "Toe below ground at break-out", "depth", {
      help: "Blank: all its embedment.",
    }),
    watched_by: field("Who watched the pull, by name", input("watched_by"), {
      help: "Who kept an eye on stretch and load, and nothing else.",
    }),
    in_the_way: field(
      "What was in the way, or anything else",
      h("textarea", { rows: 3, value: draft.in_the_way, oninput: () => type("in_the_way") }),
      { optional: true },
    ),
  };
  const photos = photoStrip(draft, null, {
    changed,
    trouble: (trouble) => sayKept(fullWords(trouble)),
  });
  const loads = h("div", { class: "pair" }, typed.hook_load_lbf.root, typed.tare_lbf.root);
  const pileWords = h("p", { class: "faint" });
  const signButton = signButtonOf(draft, sign);
  const root = h("div", { class: "inspection pull" }, content());
  const release = hold(draft, root);
  let isClosed = false;

  function content() {
    return [
      h("h1", { tabindex: "-1" }, "Pull at ", h("bdi", {}, commitment.site)),
      h(
        "p",
        { class: "faint" },
        `${commitment.mark} on ${commitment.hammer} · ${commitment.days} · `,
        h("a", { href: commitment.url }, "Its commitment"),
      ),
      rated && h("p", { class: "caution" }, h("strong", {}, "Being rated again "), rated),
      clockWords(pack) && h("p", { class: "caution" }, clockWords(pack)),
      full,
      troubles.root,
      h(
        "p",
        {},
        "One record for each pile that was tried. One that did not come tells of the ground too.",
      ),
      !isOneGroup && group.root,
      pileWords,
      h("div", { class: "pair" }, typed.pile_mark.root, typed.pulled_at.root),
      asked("Did it come", picks.outcome.root),
      asked("How it was pulled", picks.method.root),
      asked("Hook load read from", picks.load_source.root),
      loads,
      h("div", { class: "pair" }, typed.stretch_in.root, typed.minutes.root),
      typed.toe_depth_ft.root,
      typed.watched_by.root,
      typed.in_the_way.root,
      h(
        "section",
        { "aria-labelledby": "photos-head" },
        h("h2", { id: "photos-head" }, "Photos"),
        photos.root,
      ),
      h(
        "p",
        {},
        h("button", { type: "button", class: "quiet", onclick: discard }, "Discard this draft"),
      ),
      h(
        "div",
        { class: "sign-bar" },
        h("p", {}, "It waits on this phone until there is signal."),
        pack.user.may_plan ? signButton : h("p", {}, "You may read here and not sign."),
      ),
    ];
  }

  function asked(words, control) {
    return h("div", { class: "asked" }, h("h2", {}, words), control);
  }

  function groupSelect() {
    const change = () => {
      draft.pile_group = Number(group.control.value);
      changed();
    };
    return h(
      "select",
      { onchange: change, value: String(draft.pile_group) },
      commitment.piles.map((pile) =>
        h(
          "option",
          { value: String(pile.number) },
          `${pile.label || `Group ${pile.number}`}, ${pile.count} of ${pile.kind}`,
        ),
      ),
    );
  }

  function input(name, attributes = {}) {
    return h("input", {
      type: "text",
      autocomplete: "off",
      value: draft[name],
      oninput: () => type(name),
      ...attributes,
    });
  }

  function type(name) {
    draft[name] = typed[name].control.value;
    if (name === "pulled_at") draft.pulled_by_hand = true;
    typed[name].show();
    changed();
  }

  const now = () => (draft.pulled_by_hand ? ledgerNow(pack) : new Date());

  function changed() {
    if (!isClosed) keep.changed();
    troubles.corrected(checkPull(draft, now()));
    draw();
  }

  function draw() {
    loads.hidden = draft.load_source === NOT_READ;
    const pile = groupOf(draft);
    const weight = pile.unit_lb === null ? null : pile.unit_lb + pile.carried_lb;
    pileWords.textContent = [
      `${capital(pile.kind)}, ${quantityWords("depth", pile.embedment_ft, system)} in the ground`,
      weight !== null && `all that hangs: ${quantityWords("weight", weight, system)}`,
    ]
      .filter(Boolean)
      .join("; ");
  }

  function allFields() {
    return { ...(isOneGroup ? {} : { pile_group: group }), ...picks, ...typed, ...photos.fields() };
  }

  function sayKept(words) {
    full.hidden = !words;
    full.replaceChildren(
      ...(words
        ? [
            h("p", {}, words),
            h("button", { type: "button", onclick: keep.changed }, "Try to keep it again"),
          ]
        : []),
    );
  }

  async function sign() {
    signButton.disabled = true;
    await keep.settle();
    const errors = checkPull(draft, now());
    const doubts = Object.keys(errors).length > 0 ? [] : doubtsOf(draft);
    // What the ledger doubted is read again by whoever signs it a second time.
    const wasDoubted = Boolean(draft.was_doubted);
    if (Object.keys(errors).length > 0) troubles.show(errors);
    else if (doubts.length === 0) await enter(wasDoubted);
    else if (confirm(`${doubts.join("\n")}\n\nRead it again. Is it right all the same?`))
      await enter(true);
    signButton.disabled = false;
  }

  async function enter(areDoubtsKnown) {
    const item = itemOf(draft, areDoubtsKnown);
    isClosed = true;
    try {
      await enterSigned(item);
    } catch (trouble) {
      isClosed = false;
      troubles.show({ "": [fullWords(trouble)] });
      return;
    }
    app.signed(item);
  }

  async function discard() {
    if (!confirm("Discard what was entered of this pull, photos too?")) return;
    isClosed = true;
    await keep.settle();
    await app.discard(draft);
  }

  // A draft nothing was entered in leaves no trace.
  async function leave() {
    await keep.settle();
    if (!isClosed && isEmptyPull(draft)) await drop("drafts", draft.id).catch(() => {});
    release();
  }

  const errors = pullFieldsOf(draft.errors ?? {}, draft);
  if (draft.errors?.are_doubts_known) draft.was_doubted = true;
  draft.errors = {};
  draw();
  keep.changed();
  return {
    root,
    title: `Pull at ${commitment.site}`,
    address: `#draft/${draft.id}`,
    opened: () => Object.keys(errors).length > 0 && troubles.show(errors, true),
    isKept: () => isClosed || keep.isKept(),
    leave,
  };
}

function itemOf(draft, areDoubtsKnown) {
  const load = draft.load_source === NOT_READ ? "" : draft.hook_load_lbf.trim();
  return {
    id: draft.id,
    to: "pulls",
    user: draft.user,
    user_name: draft.user_name,
    housing: draft.housing,
    mark: draft.commitment.mark,
    kind: `pull of pile ${draft.pile_mark.trim()} at ${draft.commitment.site}`,
    summary: [draft.outcome, load && `${load} ${unitOf("force", draft.system)}`]
      .filter(Boolean)
      .join(", "),
    signed_at: new Date().toISOString(),
    state: WAITING,
    trouble: "",
    errors: {},
    tries: 0,
    recorded: false,
    payload: pullPayload(draft, areDoubtsKnown),
    draft: structuredClone(draft),
    photos: draft.photos.map(({ id, caption }) => ({ id, caption })),
  };
}
