// Passkeys: asks the browser to make or to use one, and sends its answer with the form it is of.
// A form says what is asked: data-passkey is "create" or "get", data-options the options in JSON,
// or data-options-at where they are fetched.
"use strict";

function bytesOf(text) {
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(plain, (each) => each.charCodeAt(0));
}

function textOf(buffer) {
  const plain = String.fromCharCode(...new Uint8Array(buffer));
  return btoa(plain).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

function withBytes(told) {
  const options = { ...told, challenge: bytesOf(told.challenge) };
  if (told.user) options.user = { ...told.user, id: bytesOf(told.user.id) };
  for (const name of ["allowCredentials", "excludeCredentials"]) {
    if (told[name]) options[name] = told[name].map((each) => ({ ...each, id: bytesOf(each.id) }));
  }
  return options;
}

function answerOf(made) {
  const response = {};
  for (const name of [
    "attestationObject",
    "authenticatorData",
    "clientDataJSON",
    "signature",
    "userHandle",
  ]) {
    if (made.response[name]) response[name] = textOf(made.response[name]);
  }
  return JSON.stringify({ id: made.id, rawId: textOf(made.rawId), type: made.type, response });
}

async function optionsOf(form) {
  if (form.dataset.options) return JSON.parse(form.dataset.options);
  const answer = await fetch(form.dataset.optionsAt, {
    method: "POST",
    headers: { "X-CSRFToken": form.elements.csrfmiddlewaretoken.value },
  });
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.detail);
  return told;
}

const TOLD = {
  InvalidStateError: "This device has a passkey of yours for this site already.",
  NotAllowedError: "No passkey was given: it was refused, or took too long. Try again.",
  SecurityError: "The browser gives no passkey here: the site has to be opened by its own name.",
};

async function send(form) {
  const words = form.querySelector("[data-passkey-words]");
  words.hidden = true;
  try {
    const publicKey = withBytes(await optionsOf(form));
    const made = await navigator.credentials[form.dataset.passkey]({ publicKey });
    form.elements.passkey.value = answerOf(made);
    form.submit();
  } catch (trouble) {
    words.textContent = TOLD[trouble.name] ?? "No passkey could be asked for. Try again.";
    words.hidden = false;
    words.focus();
  }
}

if (window.PublicKeyCredential && navigator.credentials) {
  for (const without of document.querySelectorAll("[data-without-passkeys]")) without.hidden = true;
  for (const form of document.querySelectorAll("form[data-passkey]")) {
    form.hidden = false;
    form.addEventListener("submit", (event) => {
      // What was made before a field was put right is sent as it is. One that signs in never is:
      // a browser that goes back may have kept the answer of before, which is good no more.
      if (form.dataset.passkey === "create" && form.elements.passkey.value) return;
      event.preventDefault();
      send(form);
    });
  }
}
