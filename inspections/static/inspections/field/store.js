// What the phone keeps: the pack it took along, drafts, the outbox, photos.
const NAME = "at-the-hammer";
const VERSION = 1;

// The phone would not keep what it was given; what was typed is still in the page.
export class NotKept extends Error {
  constructor(cause) {
    super(
      cause?.name === "QuotaExceededError" ? "no room" : `not kept: ${cause?.name ?? "unknown"}`,
    );
    this.isFull = cause?.name === "QuotaExceededError";
  }
}

let opened;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("kept");
      for (const name of ["drafts", "outbox"])
        request.result.createObjectStore(name, { keyPath: "id" });
      request.result.createObjectStore("photos", { keyPath: "id" }).createIndex("draft", "draft");
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => request.result.close();
      request.result.onclose = () => (opened = undefined);
      resolve(request.result);
    };
    request.onerror = () => {
      opened = undefined;
      reject(new NotKept(request.error));
    };
  });
  return opened;
}

async function transact(stores, mode, durability, work) {
  const database = await open();
  return new Promise((resolve, reject) => {
    let asked;
    const transaction = database.transaction(stores, mode, { durability });
    transaction.oncomplete = () => resolve(asked?.result);
    transaction.onabort = () => reject(new NotKept(transaction.error));
    try {
      asked = work((name) => transaction.objectStore(name));
    } catch (trouble) {
      transaction.abort();
      reject(new NotKept(trouble));
    }
  });
}

export function get(store, key) {
  return transact([store], "readonly", "default", (of) => of(store).get(key));
}

export function all(store) {
  return transact([store], "readonly", "default", (of) => of(store).getAll());
}

export function photosOf(draft) {
  return transact(["photos"], "readonly", "default", (of) =>
    of("photos").index("draft").getAll(draft),
  );
}

// Keeps at each keystroke what is typed; quick, and safe against all but a failing phone.
export function put(store, value, key) {
  return transact([store], "readwrite", "relaxed", (of) => of(store).put(value, key));
}

// Several changes at once, or none of them, on the disk before it says so.
export function write(stores, work) {
  return transact(stores, "readwrite", "strict", (of) => {
    work(of);
  });
}

// Drops a draft or an item of the outbox with its photos.
export async function drop(store, id) {
  const photos = await photosOf(id);
  await write([store, "photos"], (of) => {
    of(store).delete(id);
    for (const photo of photos) of("photos").delete(photo.id);
  });
}
