// What a page did, kept on the phone until the studio has it. Every command goes into the phone's own store first and
// over the network second, so that a lost signal, a reload or a killed page loses nothing. The server knows a command
// by its op_id and applies it once, however often it is sent.
//
//   await outbox.put("row_loaded", "table:3:0:1", {row: 12}, {base_version: null})
//   await outbox.waiting("table:3:0:1")      // what has not arrived, oldest first; without an entity: all
//   outbox.listen("table:3:0:1", (news) => …) // gives the way to stop listening; "*" hears everything
//   outbox.flush({now: true})                // "Send now"
//   await outbox.drop(op_id)                 // what to do with one that was refused or met a conflict:
//   await outbox.again(op_id, {base_version, body})   // away with it, or once more, changed or not
//
// news.kind: "queued", "sent" (answer), "conflict" (answer: what stands now), "refused" (answer.message), "dropped",
// and "state" (state: "clear" | "waiting" | "no signal" | "sign in" | "not yours" | "other person"; count; lasting:
// false where the phone keeps nothing for us, so that what waits is lost with the page: to be said).
// Commands of one entity go in the order in which they were put. A conflict stops its entity until it is dropped or
// put again; a refused one steps aside and is kept to be shown. Nothing is dropped by itself.

const ADDRESS = "/commands/";
const TIMEOUT = 10_000;
const SHORTEST = 2_000;
const LONGEST = 60_000;
const EVERY = 30_000;
const LEASE = 15_000;

const listeners = new Map();
const me = Number(document.querySelector("meta[name=who]")?.content || 0);
const radio = "BroadcastChannel" in self ? new BroadcastChannel("outbox") : null;
let state = "clear";
let failures = 0;
let notBefore = 0;
let timer = 0;
let running = null;
let again = false;

// ---- the phone's store
let memory = null; // entries here only where the phone keeps nothing for us
const opened = new Promise((done) => {
  const unkept = () => done((memory = new Map()) && null);
  try {
    const ask = indexedDB.open("outbox", 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore("entries", { keyPath: "seq", autoIncrement: true });
    ask.onsuccess = () => {
      ask.result.onversionchange = () => ask.result.close();
      done(ask.result);
    };
    ask.onerror = unkept;
  } catch {
    unkept(); // some browsers throw in their private mode
  }
});

async function inStore(mode, work) {
  const base = await opened;
  return new Promise((done, failed) => {
    const deal = base.transaction("entries", mode, mode === "readwrite" ? { durability: "strict" } : {});
    const asked = work(deal.objectStore("entries"));
    // Only a finished transaction is on the disk.
    deal.oncomplete = () => done(asked.result);
    deal.onerror = deal.onabort = () => failed(deal.error);
  });
}

let lastSeq = 0;
async function keep(entry) {
  await opened;
  if (!memory) {
    try {
      entry.seq = await inStore("readwrite", (store) => store.put(entry));
      return;
    } catch {
      memory = new Map(); // full, or taken away: better in memory, and said
    }
  }
  memory.set((entry.seq ??= 1e12 + ++lastSeq), entry);
}

async function all() {
  const base = await opened;
  const kept = base ? await inStore("readonly", (store) => store.getAll()).catch(() => []) : [];
  const loose = memory ? [...memory.values()].filter((one) => !kept.some((other) => other.op_id === one.op_id)) : [];
  return [...kept, ...loose];
}

async function remove(entry) {
  const base = await opened;
  memory?.delete(entry.seq);
  if (base) await inStore("readwrite", (store) => store.delete(entry.seq));
}

// ---- news, to this tab and to the others
function tell(news, { here = false } = {}) {
  for (const fn of [...(listeners.get(news.entity) ?? []), ...(listeners.get("*") ?? [])]) fn(news);
  if (!here) radio?.postMessage(news);
}
if (radio) radio.onmessage = ({ data }) => tell(data, { here: true });

async function tellState(next) {
  const count = (await all()).filter((entry) => entry.state !== "refused").length;
  state = next ?? (count ? (state === "clear" ? "waiting" : state) : "clear");
  if (!count) state = "clear";
  tell({ kind: "state", entity: "*", state, count, lasting: memory === null });
}

// randomUUID is only there over https; what it does is not.
function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function put(command, entity, body, { base_version = null } = {}) {
  const entry = { op_id: newId(), user: me, command, entity, base_version, body, attempts: 0, state: "queued" };
  entry.client_time = new Date().toISOString();
  await keep(entry);
  tell({ kind: "queued", entity, entry });
  await tellState();
  flush();
  return entry;
}

const waiting = async (entity) => (await all()).filter((entry) => !entity || entry.entity === entity);

// ---- sending
class NoSignal extends Error {}

async function ask(method, headers = {}, body = undefined) {
  const given = { method, body, credentials: "same-origin", cache: "no-store", redirect: "error" };
  const patience = new AbortController();
  const late = setTimeout(() => patience.abort(), TIMEOUT);
  try {
    const signal = patience.signal;
    const answer = await fetch(ADDRESS, { ...given, signal, headers: { Accept: "application/json", ...headers } });
    if (answer.status >= 500 || answer.status === 429 || answer.status === 408) throw new NoSignal();
    const said = await answer.json().catch(() => null);
    // A hotel's own sign-in page answers 200 to anything.
    if (answer.ok && said === null) throw new NoSignal();
    return { status: answer.status, answer: said?.answer ?? {}, said };
  } catch {
    throw new NoSignal();
  } finally {
    clearTimeout(late);
  }
}

// The oldest that may go: none behind a conflict or one that is not ours to do, none of another person's.
function next(entries, user, done, forbidden) {
  const stopped = new Set(forbidden);
  for (const entry of entries) {
    if (entry.state === "refused" || done.has(entry.op_id)) continue;
    if (entry.state === "conflict" || entry.user !== user) stopped.add(entry.entity);
    else if (!stopped.has(entry.entity)) return entry;
  }
  return null;
}

async function send(entry, token) {
  entry.attempts += 1;
  const { op_id, command, entity, base_version, client_time, body } = entry;
  const said = { op_id, command, entity, base_version, client_time, body, sent_time: new Date().toISOString() };
  const headers = { "Content-Type": "application/json", "X-CSRFToken": token };
  return ask("POST", headers, JSON.stringify(said));
}

async function settle(entry, { status, answer }) {
  const { entity } = entry;
  if (status >= 200 && status < 300) {
    await rebase(entry, answer.version);
    await remove(entry);
    tell({ kind: "sent", entity, entry, answer });
    return;
  }
  entry.state = status === 409 || status === 412 ? "conflict" : "refused";
  entry.reason = answer.message || "The studio did not take this.";
  await keep(entry);
  tell({ kind: entry.state, entity, entry, answer });
}

// What was put on top of a command of our own goes on from the version that it made.
async function rebase(entry, version) {
  if (entry.base_version === null || !Number.isInteger(version)) return;
  const later = (await waiting(entry.entity)).filter((one) => one.seq > entry.seq && one.state === "queued");
  for (const one of later) if (one.base_version === entry.base_version) await keep({ ...one, base_version: version });
}

async function sendAll() {
  const done = new Set();
  const forbidden = new Set();
  if (!(await all()).some((entry) => entry.state === "queued")) return "clear";
  const fresh = await ask("GET");
  if (!fresh.said?.token) return "sign in";
  for (;;) {
    renew();
    const entry = next(await all(), fresh.said.user, done, forbidden);
    if (!entry) break;
    const told = await send(entry, fresh.said.token);
    if (told.status === 401) return "sign in";
    if (told.status === 403) {
      forbidden.add(entry.entity);
      continue;
    }
    failures = 0;
    done.add(entry.op_id);
    await settle(entry, told);
    await tellState();
  }
  if (forbidden.size) return "not yours";
  const left = (await all()).filter((entry) => entry.state !== "refused");
  if (left.some((entry) => entry.user !== fresh.said.user)) return "other person";
  return left.length ? "waiting" : "clear";
}

// ---- one flusher among all tabs
const holder = newId();
const held = () => JSON.parse(localStorage.getItem("outbox-flusher") ?? "null");
const renew = () =>
  navigator.locks || localStorage.setItem("outbox-flusher", JSON.stringify({ holder, until: Date.now() + LEASE }));

async function alone(work) {
  if (navigator.locks) return navigator.locks.request("outbox-flusher", work);
  // Over http there are no locks: a lease among the tabs, and the server applies once what two should send.
  const other = held();
  if (other && other.holder !== holder && other.until > Date.now()) return null;
  renew();
  try {
    return await work();
  } finally {
    localStorage.removeItem("outbox-flusher");
  }
}

async function attempt() {
  try {
    const now = await alone(sendAll);
    failures = 0;
    notBefore = now ? 0 : Date.now() + SHORTEST; // another tab is at it
    if (now) await tellState(now);
  } catch (trouble) {
    if (!(trouble instanceof NoSignal)) console.warn("outbox", trouble);
    failures += 1;
    const most = Math.min(LONGEST, SHORTEST * 2 ** failures);
    notBefore = Date.now() + SHORTEST + Math.random() * (most - SHORTEST);
    await tellState("no signal");
  }
}

function flush({ now = false } = {}) {
  if (now) notBefore = 0;
  if (running) {
    again = true;
    return running;
  }
  clearTimeout(timer);
  const wait = notBefore - Date.now();
  if (wait > 0) {
    timer = setTimeout(flush, wait);
    return Promise.resolve();
  }
  running = attempt().finally(() => {
    running = null;
    if (again || notBefore) flush();
    again = false;
  });
  return running;
}

// ---- what to do with one that did not go through
async function drop(op_id) {
  const entry = (await all()).find((one) => one.op_id === op_id);
  if (!entry) return;
  await remove(entry);
  tell({ kind: "dropped", entity: entry.entity, entry });
  await tellState();
  flush();
}

async function retry(op_id, changes = {}) {
  const entry = (await all()).find((one) => one.op_id === op_id);
  if (!entry) return;
  // Under a number of its own: the old one would only get the old answer.
  await keep({ ...entry, ...changes, op_id: newId(), state: "queued", reason: "" });
  await tellState();
  flush({ now: true });
}

function listen(entity, fn) {
  if (!listeners.has(entity)) listeners.set(entity, new Set());
  listeners.get(entity).add(fn);
  return () => listeners.get(entity).delete(fn);
}

// For signing out: whoever is next on this phone finds nothing. The page has warned of what is not sent.
async function wipe() {
  (await opened)?.close();
  memory?.clear();
  await new Promise((done) => {
    const ask = indexedDB.deleteDatabase("outbox");
    ask.onsuccess = ask.onerror = ask.onblocked = done;
  });
}

addEventListener("pageshow", () => flush({ now: true }));
addEventListener("online", () => flush({ now: true }));
document.addEventListener("visibilitychange", () => document.hidden || flush({ now: true }));
setInterval(() => document.hidden || flush(), EVERY);
flush();

export const outbox = { put, waiting, listen, flush, drop, again: retry, wipe };
// Whether what is put outlasts this page; where not, the page says so.
outbox.lasting = opened.then((base) => base !== null);
outbox.tell = () => tellState();
