// Signing out on this phone: warns of what is not sent or not decided yet, then leaves nothing behind for the next
// person.

import { outbox } from "./outbox.js";

const form = document.querySelector("form[data-sign-out]");
const warning = document.getElementById("unsent");
const leave = form?.querySelector("button:not([type])");
const sendNow = warning?.querySelector("button");
let sure = false;

const things = (count) => (count === 1 ? "1 thing that you did is" : `${count} things that you did are`);

// What the chart editor keeps of cells that somebody else painted too, until one of the two is chosen.
function disputes() {
  const found = [];
  for (const [key, value] of Object.entries({ ...localStorage })) {
    if (!/^chart panel:\d+ mine$/.test(key)) continue;
    try {
      const { runs, at } = JSON.parse(value);
      let cells = 0;
      for (let index = 1; index < runs.length; index += 4) cells += runs[index];
      found.push({ cells, at });
    } catch {
      // Broken: nothing that anybody could still choose.
    }
  }
  return found;
}

function toRead(words, address) {
  const line = document.createElement("span");
  line.append(words);
  if (address) {
    const link = document.createElement("a");
    link.href = address;
    link.textContent = "Choose now";
    line.append(" ", link);
  }
  return line;
}

// Sentences of what would be lost, and how many things a signal would help.
async function lost() {
  const entries = await outbox.waiting();
  const unsent = entries.filter((entry) => entry.state === "queued").length;
  const parked = entries.length - unsent;
  const lines = [];
  if (unsent) lines.push(toRead(`${things(unsent)} not sent yet.`));
  if (parked) lines.push(toRead(`${things(parked)} not taken by the studio, and you have not said what to do.`));
  for (const { cells, at } of disputes()) {
    const wait = cells === 1 ? "1 cell that somebody else painted too waits" : `${cells} cells that somebody else painted too wait`;
    lines.push(toRead(`${wait} for you to choose.`, at));
  }
  return { lines, unsent };
}

async function show() {
  const { lines, unsent } = await lost();
  const said = warning.querySelector("p");
  if (!lines.length) {
    said.textContent = "All is sent.";
    leave.textContent = "Sign out";
  } else {
    said.replaceChildren();
    for (const line of lines) said.append(line, document.createElement("br"));
    said.append("Sign out now, and what is yours of it is lost.");
    leave.textContent = "Sign out and lose it";
  }
  sendNow.hidden = !unsent;
  return lines.length;
}

async function wipe() {
  sessionStorage.clear();
  localStorage.clear();
  await outbox.wipe();
  if ("caches" in self) for (const name of await caches.keys()) await caches.delete(name);
  for (const worker of (await navigator.serviceWorker?.getRegistrations()) ?? []) await worker.unregister();
}

form?.addEventListener("submit", async (event) => {
  if (sure) return;
  event.preventDefault();
  if (warning.hidden && (await show())) {
    warning.hidden = false;
    delete form.dataset.sent;
    leave.removeAttribute("aria-busy");
    leave.scrollIntoView({ block: "center" });
    return;
  }
  await wipe().catch(() => null);
  sure = true;
  form.submit();
});

sendNow?.addEventListener("click", async () => {
  await outbox.flush({ now: true });
  await show();
});

// What goes out while the warning stands no longer waits.
outbox.listen("*", (news) => {
  if (!warning || warning.hidden || !["sent", "refused", "conflict", "dropped"].includes(news.kind)) return;
  show();
});
