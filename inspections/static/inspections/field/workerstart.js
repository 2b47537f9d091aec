// Starts the service worker, which lets the page open without signal, and hears of newer ones.

// tell(): called when it is ready, and when a newer one is. Returns {isReady, isNewer, sendLater,
// takeOver}.
export async function startWorker(places, tell) {
  const registration = await register(places);
  if (!registration)
    return { isReady: false, isNewer: () => false, sendLater: () => {}, takeOver: () => {} };
  const started = {
    isReady: Boolean(registration.active),
    isNewer: () => Boolean(registration.waiting && navigator.serviceWorker.controller),
    // Sent by the browser itself when signal is back, even with the page closed, where it can.
    sendLater: () => registration.sync?.register("outbox").catch(() => {}),
    takeOver: () => takeOver(registration),
  };
  navigator.serviceWorker.ready.then(() => {
    started.isReady = true;
    tell();
  });
  const watch = (installing) => installing?.addEventListener("statechange", tell);
  registration.addEventListener("updatefound", () => watch(registration.installing));
  watch(registration.installing);
  return started;
}

async function register(places) {
  if (!navigator.serviceWorker) return null;
  const options = { scope: places.shell, updateViaCache: "none" };
  try {
    return await navigator.serviceWorker.register(places.worker, { ...options, type: "module" });
  } catch {
    // A browser whose workers know no modules gets one that only keeps the page.
    return navigator.serviceWorker.register(`${places.worker}?plain`, options).catch(() => null);
  }
}

function takeOver(registration) {
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), {
    once: true,
  });
  registration.waiting?.postMessage("take over");
}
