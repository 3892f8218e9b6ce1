// What this phone can do for a page at the table: stay awake, keep pages for when there is no signal. What it cannot is
// said in words.

const list = document.querySelector("#phone ul");
const lines = new Map();

function say(key, words) {
  if (!list) return;
  let line = lines.get(key);
  if (!line) lines.set(key, (line = list.appendChild(document.createElement("li"))));
  line.textContent = words;
  list.closest("section").hidden = false;
}

let awake = null;
export async function stayAwake() {
  if (!navigator.wakeLock) {
    const why = isSecureContext ? "This browser cannot keep the screen on" : "Without https the screen cannot be kept on";
    say("awake", `${why}: set its own time-out longer in the phone's settings.`);
    return;
  }
  if (document.hidden || (awake && !awake.released)) return;
  try {
    awake = await navigator.wakeLock.request("screen");
    say("awake", "The screen stays on while this page is open.");
  } catch {
    say("awake", "The phone does not keep the screen on now; a low battery does that.");
  }
}
document.addEventListener("visibilitychange", () => stayAwake());

const onePort = (worker, told) =>
  new Promise((done) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = ({ data }) => done(data);
    worker.postMessage(told, [port2]);
  });

// Lets a newer keeper in, but only while nothing waits to be sent.
async function letNewerIn(registration, outbox) {
  const unsent = (await outbox.waiting()).filter((entry) => entry.state !== "refused");
  if (!unsent.length) registration.waiting?.postMessage("swap");
}

async function savePages(registration, pages) {
  const files = performance.getEntriesByType("resource").map((entry) => entry.name);
  for (const one of document.querySelectorAll("link[href], script[src]")) files.push(one.href || one.src);
  const save = [...new Set([location.pathname + location.search, ...pages])];
  const { saved, of } = await onePort(registration.active, { save, files });
  const clock = new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
  if (saved === of) say("pages", `Saved ${clock} for when there is no signal: ${saved} of ${of} pages.`);
  else say("pages", `${saved} of ${of} pages could be saved now; those saved before are still here.`);
}

export async function keepPages(pages, outbox) {
  const workers = navigator.serviceWorker;
  if (!workers) {
    const why = isSecureContext ? "This browser cannot keep pages" : "Without https pages cannot be kept";
    say("pages", `${why}: without a signal leave this page open, as it cannot be loaded again. Ticks are kept.`);
    return;
  }
  try {
    const first = !workers.controller;
    await workers.register("/sw.js");
    const registration = await workers.ready;
    // A newer one starts with nothing kept, so whoever sees it come in saves again.
    if (!first) workers.addEventListener("controllerchange", () => savePages(registration, pages).catch(() => null));
    await letNewerIn(registration, outbox);
    outbox.listen("*", (news) => news.kind === "state" && !news.count && letNewerIn(registration, outbox));
    await savePages(registration, pages);
  } catch {
    say("pages", "Pages could not be kept on this phone: without a signal leave this one open.");
  }
}

export const sayLasting = (lasting) =>
  lasting || say("kept", "This browser keeps nothing (a private window does that): what is not sent is lost with the page.");

// "No signal, 3 ticks wait", with a button to try at once.
export function signalWords({ state, count }) {
  const ticks = `${count} ${count === 1 ? "tick waits" : "ticks wait"}`;
  if (!count) return "";
  if (state === "no signal") return `No signal, ${ticks}`;
  if (state === "sign in") return `Sign in, your work is kept: ${ticks}`;
  if (state === "not yours") return `Ask the studio, your work is kept: ${ticks}`;
  if (state === "other person") return `${ticks} for the person who made them to sign in`;
  return ticks;
}

export function showSignal(place, news, outbox) {
  const words = signalWords(news);
  place.replaceChildren(words || "All ticks are in");
  if (!words) return;
  if (news.state === "sign in") {
    const link = document.createElement("a");
    link.href = `/sign-in/?next=${encodeURIComponent(location.pathname + location.search)}`;
    link.textContent = "Sign in";
    place.append(" ", link);
  } else {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "Send now";
    button.addEventListener("click", () => outbox.flush({ now: true }));
    place.append(" ", button);
  }
}
