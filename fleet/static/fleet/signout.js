// Before somebody signs out: says what of theirs still waits on this phone. The page at the
// hammer keeps it, so nothing is lost by signing out; but nobody else can send it.
"use strict";
const KEPT_IN = "at-the-hammer";

// Does something with what that page keeps, where it was ever used here; else gives undefined.
function withKept(store, mode, act) {
  return new Promise((resolve) => {
    const opening = indexedDB.open(KEPT_IN);
    // Never used here: leave no empty store behind.
    opening.onupgradeneeded = () => opening.transaction.abort();
    opening.onerror = () => resolve(undefined);
    opening.onsuccess = () => {
      const database = opening.result;
      const work = database.transaction(store, mode);
      const asked = act(work.objectStore(store));
      work.oncomplete = work.onabort = () => {
        database.close();
        resolve(asked.result);
      };
    };
  });
}

async function warned() {
  const items = (await withKept("outbox", "readonly", (of) => of.getAll())) ?? [];
  const unsent = items.filter((item) => item.state !== "sent").length;
  if (unsent === 0) return true;
  const what =
    unsent === 1
      ? "1 signed inspection on this phone is"
      : `${unsent} signed inspections on this phone are`;
  return confirm(
    `${what} not sent yet. They stay here, and only whoever ` +
      "signed them can send them. Sign out all the same?",
  );
}

for (const form of document.querySelectorAll("form[data-sign-out]")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      if (!(await warned())) return;
      // What was taken along goes with the person; what they signed or began stays.
      await withKept("kept", "readwrite", (of) => of.clear());
    } catch {
      // A browser that keeps nothing has nothing to warn of.
    }
    form.submit();
  });
}
