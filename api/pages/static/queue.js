"use strict";
/* Lines of the log that wait to be sent: each is kept on this device before anything is sent, and let go only once the
   log is known to have it. The pages and the keeper use the same file, so that there is one way to send.

   A line has a key of its own; what the service gets twice under one key it keeps once. A line also knows over which line
   of the log it was written (`over`): where another stands there by then, the service asks instead of overwriting. */
const waitingLines = (() => {
  const OPENED = "duskwright", LINES = "lines", COPIES = "duskwright-pages", PATIENCE_MS = 30000;
  const WAITING = "waiting", SHUT = "shut", REFUSED = "refused", MEANWHILE = "meanwhile";
  const told = typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel("duskwright-lines");

  function opened() {
    return new Promise((resolve, reject) => {
      const asked = indexedDB.open(OPENED, 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(LINES, { keyPath: "number", autoIncrement: true });
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
  }

  /* Do something in one transaction; it is on the disk once this resolves. */
  async function store(mode, deed) {
    const database = await opened();
    try {
      return await new Promise((resolve, reject) => {
        const transaction = database.transaction(LINES, mode, { durability: "strict" });
        const asked = deed(transaction.objectStore(LINES));
        transaction.oncomplete = () => resolve(asked && asked.result);
        transaction.onerror = transaction.onabort = () => reject(transaction.error);
      });
    } finally {
      database.close();
    }
  }

  /* Change the lines in one transaction, knowing all there are: whoever else changes them comes before or after. */
  async function change(deed) {
    let asked;
    await store("readwrite", (lines) => {
      lines.getAll().onsuccess = ({ target }) => { asked = deed(lines, target.result); };
    });
    return asked && asked.result;
  }

  /* Note something on a line, and return it; nothing where it is there no more. */
  async function note(number, noted) {
    let line;
    await change((lines, here) => {
      const before = here.find((one) => one.number === number);
      if (before) lines.put(line = { ...before, ...noted });
    });
    return line;
  }

  const all = () => store("readonly", (lines) => lines.getAll());
  const sameNight = (one, other) => one.scenario === other.scenario && one.evening === other.evening;
  const plansOn = (line) => line.fields.some(([name, value]) => name === "then" && value === "plan");

  let inTurn = Promise.resolve();
  function oneAtATime(deed) {
    const locks = self.navigator && self.navigator.locks;
    if (locks) return locks.request("duskwright-lines", deed);
    inTurn = inTurn.then(deed, deed);
    return inTurn;
  }

  function freshKey() {
    return [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
  }

  /* Keep a line, whatever is being sent; of the same night, one that certainly never reached the service gives way. */
  async function add(line) {
    const number = await change((lines, here) => {
      const before = here.filter((one) => sameNight(one, line)).at(-1);
      const fresh = { ...line, key: freshKey(), state: WAITING, tried: false, reason: "", written: Date.now() };
      if (before && before.state === WAITING) fresh.over = before.over;
      if (before && (!before.tried || before.state !== WAITING)) lines.delete(before.number);
      return lines.add(fresh);
    });
    changed();
    return number;
  }

  /* Send what waits, in the order it was written; return what arrived. Only one page, or the keeper, does so at a time. */
  async function send() {
    return oneAtATime(async () => {
      const arrived = [], held = [], unplanned = new Map();  // by scenario: what left the new plan to a later night
      for (const waiting of await all()) {
        if (![WAITING, SHUT].includes(waiting.state) || held.some((one) => sameNight(one, waiting))) {
          held.push(waiting);
          continue;
        }
        // from here on nobody knows whether it arrived, until there is an answer
        const line = await note(waiting.number, { tried: true, state: WAITING });
        if (!line) continue;  // dropped meanwhile, or another took its place
        const followed = await isFollowed(line), answer = await posted(line, followed ? "save" : undefined);
        if (answer.line !== undefined) {
          await settled(line, answer.line);
          const { number, scenario, evening, day } = line, here = { number, scenario, evening, day, ...answer };
          arrived.push(here);
          if (plansOn(line) && followed) unplanned.set(scenario, { line, here });
          else if (plansOn(line)) unplanned.delete(scenario);
          continue;
        }
        held.push(line);
        await note(line.number, { state: answer.state, reason: answer.reason, stands: answer.stands });
        if (answer.stop) break;
      }
      for (const { line, here } of unplanned.values()) {
        if (!(await isFollowed(line))) here.next = (await posted(line)).next || here.next;  // the later night was refused
      }
      if (arrived.length || held.length) changed(arrived);
      return arrived;
    });
  }

  /* Tell whether a later night of the same year is to be planned on from: one new plan is enough then. */
  async function isFollowed(line) {
    const later = (await all()).filter((one) => one.number > line.number && one.scenario === line.scenario);
    return later.some((one) => one.state === WAITING && plansOn(one));
  }

  /* Send a line, and tell what became of it: the line of the log it is now and where that leads, or why it is none. */
  async function posted(line, then) {
    const body = new URLSearchParams(line.fields);
    body.set("key", line.key);
    body.set("over", String(line.over));
    if (then) body.set("then", then);
    let answer, read;
    try {
      answer = await fetch(`/log/${line.scenario}/${line.evening}`, {
        method: "POST", body, headers: { Accept: "application/json" }, credentials: "same-origin",
        signal: AbortSignal.timeout(PATIENCE_MS),
      });
      read = await answer.json();
    } catch {
      return { state: WAITING, stop: true, unreached: true, reason: "There is no network. It is sent once there is one." };
    }
    if (answer.status === 201 && Number.isInteger(read.line)) return read;
    if (answer.status === 401) {
      if (self.caches) await caches.delete(COPIES);
      return { state: WAITING, stop: true, reason: "Sign in, and it is sent." };
    }
    if (answer.status === 403 || answer.status === 404) {
      const reason = "The key in use now may not log it, or the night is no longer in the year. Sign in with its club's key, or drop it.";
      return { state: SHUT, reason };
    }
    if (answer.status === 409 && Number.isInteger(read.line)) {
      return { state: MEANWHILE, stands: read.line, reason: "Somebody logged this night meanwhile." };
    }
    if (answer.ok || answer.status >= 500 || [408, 425, 429].includes(answer.status)) {
      return { state: WAITING, stop: true, reason: "The service could not take it just now. It is sent again later." };
    }
    const details = (read.errors || []).map((one) => one.detail).filter(Boolean);
    return { state: REFUSED, reason: details.join(" ") || read.detail || `Refused (${answer.status}).` };
  }

  /* Let go of a line the log has; what was written over it on this device stands over the log's line now. */
  async function settled(line, number) {
    await change((lines, here) => {
      const later = here.filter((one) => one.number > line.number && sameNight(one, line));
      for (const one of later) if (one.over === line.over) lines.put({ ...one, over: number });
      return lines.delete(line.number);
    });
  }

  /* Put a line over the one that stands by now: that was decided by somebody who knows of both. */
  async function insist(number) {
    await change((lines, here) => {
      const line = here.find((one) => one.number === number);
      return line && lines.put({ ...line, key: freshKey(), state: WAITING, tried: false, reason: "", over: line.stands });
    });
    changed();
  }

  async function drop(number) {
    await store("readwrite", (lines) => lines.delete(number));
    changed();
  }

  const listeners = [];
  function changed(arrived = []) {
    if (told) told.postMessage(arrived);
    for (const listener of listeners) listener(arrived);
  }
  if (told) told.onmessage = (event) => listeners.forEach((listener) => listener(event.data));

  return {
    all, add, send, posted, insist, drop, onChange: (listener) => listeners.push(listener),
    COPIES, WAITING, SHUT, REFUSED, MEANWHILE,
  };
})();
