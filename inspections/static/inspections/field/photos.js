// Photos of a finding, or of the whole inspection: taken, shrunk, kept on the phone, shown.
import { newId } from "./draft.js";
import { h } from "./elements.js";
import { field } from "./fields.js";
import { NoPicture, shrink } from "./shrink.js";
import { photosOf, write } from "./store.js";

// on: {changed, trouble(error)}. finding: its uid, or null. Returns {root, fields(), clear()}.
export function photoStrip(draft, finding, on) {
  const shown = new Map();
  const words = h("p", { class: "faint", role: "status" });
  const wrong = h("div", { class: "field-error", role: "alert" });
  const input = h("input", {
    type: "file",
    accept: "image/*",
    multiple: true,
    class: "visually-hidden",
    onchange: take,
  });
  const place = h("ul", { class: "photos" });
  const root = h(
    "div",
    { class: "photo-strip" },
    h(
      "label",
      { class: "button photo-add" },
      input,
      "Add photos",
      h("span", { class: "visually-hidden" }, finding ? " of this finding" : " of the whole"),
    ),
    words,
    wrong,
    place,
  );
  const mine = () => draft.photos.filter((photo) => photo.finding === finding);
  showKept();

  async function showKept() {
    if (mine().length === 0) return;
    const kept = await photosOf(draft.id).catch(() => []);
    for (const photo of mine()) {
      const held = kept.find((each) => each.id === photo.id);
      if (!shown.has(photo.id)) show(photo, held?.blob);
    }
  }

  async function take() {
    const files = [...input.files];
    wrong.replaceChildren();
    for (const [number, file] of files.entries()) {
      words.textContent = `Making photo ${number + 1} of ${files.length} smaller…`;
      await add(file).catch((trouble) => {
        if (trouble instanceof NoPicture) wrong.append(h("p", { class: "error" }, trouble.message));
        else
          wrong.append(
            h(
              "p",
              { class: "error" },
              `“${file.name}” was not kept: this phone has ` +
                "no room for it. Make room, then add it again.",
            ),
          );
      });
    }
    words.textContent = "";
    input.value = "";
  }

  async function add(file) {
    const blob = await shrink(file);
    const photo = { id: newId(), caption: "", finding };
    await write(["photos"], (of) => of("photos").put({ id: photo.id, draft: draft.id, blob }));
    draft.photos.push(photo);
    show(photo, blob);
    on.changed();
  }

  function show(photo, blob) {
    const source = blob ? URL.createObjectURL(blob) : "";
    const size = blob ? `${Math.ceil(blob.size / 1024)} kB` : "not on this phone any more";
    const caption = field(
      "Words with it",
      h("input", { type: "text", value: photo.caption, oninput: typed }),
      { optional: true },
    );
    const item = h(
      "li",
      {},
      h("img", {
        src: source,
        alt: `Photo ${place.children.length + 1}, ${size}`,
        width: 96,
        height: 96,
      }),
      h(
        "div",
        {},
        caption.root,
        h(
          "button",
          { type: "button", class: "quiet", onclick: () => remove(photo) },
          "Remove photo",
        ),
      ),
    );
    shown.set(photo.id, { item, caption, source });
    place.append(item);

    function typed() {
      photo.caption = caption.control.value;
      caption.show();
      on.changed();
    }
  }

  async function remove(photo) {
    draft.photos.splice(draft.photos.indexOf(photo), 1);
    const { item, source } = shown.get(photo.id);
    URL.revokeObjectURL(source);
    item.remove();
    shown.delete(photo.id);
    on.changed();
    input.focus();
    await write(["photos"], (of) => of("photos").delete(photo.id)).catch(on.trouble);
  }

  const fields = () =>
    Object.fromEntries([...shown].map(([id, each]) => [`photos.${id}`, each.caption]));
  return { root, fields, clear: () => mine().forEach(remove) };
}
