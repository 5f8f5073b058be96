/* The keeper: a service worker that keeps the pages of the year and its coming nights, and what they are made of, for places
   without a network; nothing else. What it shows of them says so, and is lit as the reader wants light now. Whoever signs out, signs
   in or is refused for want of a key leaves no page behind.

   The service puts queue.js and red.js before this file. */
const COPIES = waitingLines.COPIES, LIGHT = "duskwright-light";
const KEPT_PAGE = /^\/(?:year\/[0-9a-f]{20}|(?:night|log)\/[0-9a-f]{20}\/\d{4}-\d\d-\d\d)$/;
const NEXT = /^\/next\/([0-9a-f]{20})$/;
const MOST_PAGES = 16, HURRY_MS = 5000, AT = "x-kept-at", HALF_A_DAY_MS = 43_200_000;
let generation = 0, keeping = Promise.resolve();

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("sync", (event) => event.waitUntil(sendAll()));

self.addEventListener("message", (event) => {
  if (event.data.light) event.waitUntil(noteLight(event.data.light));
  if (event.data.keep) {
    const keep = () => keepNights(event.data.keep);
    keeping = keeping.then(keep, keep);
    event.waitUntil(keeping);
  }
});

self.addEventListener("fetch", (event) => {
  const { request } = event, { origin, pathname } = new URL(request.url);
  if (origin !== self.location.origin) return;
  if (request.method === "POST" && (pathname === "/leave" || pathname === "/enter")) event.respondWith(forgotten(request));
  else if (request.method !== "GET") return;
  else if (pathname.startsWith("/static/")) event.respondWith(fixed(request));
  else if (request.mode === "navigate") event.respondWith(page(event, request, pathname));
});

async function sendAll() {
  await waitingLines.send();
  const lines = await waitingLines.all();
  if (lines.some((line) => line.state === waitingLines.WAITING)) throw new Error("some wait still");  // the browser tries again
}

async function forget() {
  generation += 1;
  await caches.delete(COPIES);
}

async function forgotten(request) {
  await forget();
  try {
    return await fetch(request);
  } finally {
    await forget();
  }
}

/* Fixed files have another address for each content. */
async function fixed(request) {
  const kept = await caches.match(request.url, { cacheName: COPIES });
  return kept || fetch(request);
}

async function page(event, request, pathname) {
  const begun = generation;
  const copy = KEPT_PAGE.test(pathname) ? await caches.match(pathname, { cacheName: COPIES }) : undefined;
  const [, scenario] = NEXT.exec(pathname) || [];
  const coming = scenario && await comingOf(scenario);
  const asked = fetch(request);
  try {
    const answer = await (copy || coming ? Promise.race([asked, after(HURRY_MS)]) : asked);
    if (answer.status === 401) await forget();
    else if (KEPT_PAGE.test(pathname) && !new URL(request.url).search) event.waitUntil(put(pathname, answer.clone(), begun));
    return answer;
  } catch {
    asked.catch(() => {});
    if (coming) return Response.redirect(coming);
    return copy ? shown(copy) : nothing();
  }
}

/* Addresses of the kept pages; those of nights by date. */
async function keptPages() {
  const requests = await (await caches.open(COPIES)).keys();
  return requests.map((one) => new URL(one.url).pathname).filter((one) => KEPT_PAGE.test(one)).sort();
}

const eveningOf = (address) => address.split("/")[3];

/* The first kept night that is not over, as the service said; of nights it said nothing of, the first that is not over by the
   device's own clock and zone: till noon yesterday's evening is not. */
async function comingOf(scenario) {
  const nights = (await keptPages()).filter((one) => one.startsWith(`/night/${scenario}/`));
  const said = await saidOf(scenario);
  const next = said.coming.find((one) => nights.includes(one.page) && Date.now() / 1000 < one.over);
  if (next) return next.page;
  const at = new Date(Date.now() - HALF_A_DAY_MS);
  const tonight = [at.getFullYear(), at.getMonth() + 1, at.getDate()].map((one) => String(one).padStart(2, "0")).join("-");
  return nights.find((one) => eveningOf(one) >= tonight && !said.pages.includes(one));
}

/* What the service said was to be kept of a scenario, when all of it was kept last. */
async function saidOf(scenario) {
  const said = await caches.match(`/keep/${scenario}`, { cacheName: COPIES });
  return said ? said.json() : { pages: [], coming: [] };
}

function after(time_ms) {
  return new Promise((_, reject) => setTimeout(() => reject(new Error("no answer")), time_ms));
}

/* Keep an answer, and tell whether it is kept. */
async function put(address, answer, begun) {
  if (!answer.ok || answer.redirected) return false;
  const headers = new Headers(answer.headers);
  for (const name of ["content-encoding", "content-length", "set-cookie"]) headers.delete(name);
  headers.set(AT, String(Date.now()));
  const whole = new Response(await answer.blob(), { headers });
  if (begun !== generation) return false;  // signed out meanwhile
  const copies = await caches.open(COPIES);
  await copies.put(address, whole);
  if (begun !== generation) await caches.delete(COPIES);
  return begun === generation;
}

/* Keep the pages of a scenario's coming nights, and let go of those of others. While the service tells the same mark, nothing
   they show has changed, and those that are kept are not fetched again. */
async function keepNights(scenario) {
  const begun = generation, source = `/keep/${scenario}`;
  const told = await fetch(source, { headers: { Accept: "application/json" } }).catch(() => null);
  if (!told) return;
  if (told.status === 401) return forget();
  if (!told.ok) return;
  const said = told.clone(), { mark, pages, files } = await told.json();
  const changed = (await saidOf(scenario)).mark !== mark;
  const copies = await caches.open(COPIES);
  for (const request of await copies.keys()) {
    const { pathname, search } = new URL(request.url);
    const wanted = pathname.startsWith("/static/") ? files.includes(pathname + search) : pathname.includes(scenario);
    if (!wanted) await copies.delete(request);
  }
  let all = true;
  for (const address of [...files, ...pages]) {
    if (await copies.match(address) && !(changed && pages.includes(address))) continue;
    const kept = await fetch(address, { headers: { Accept: "text/html" } }).then((answer) => put(address, answer, begun), () => false);
    all &&= kept;
  }
  if (all) await put(source, said, begun);
  const others = (await copies.keys()).map((one) => new URL(one.url).pathname)
    .filter((one) => KEPT_PAGE.test(one) && !pages.includes(one));
  for (const address of others.slice(0, Math.max(0, pages.length + others.length - MOST_PAGES))) await copies.delete(address);
}

async function noteLight(light) {
  const whole = { ...(await notedLight()), ...light };
  await (await caches.open(LIGHT)).put("/light", new Response(JSON.stringify(whole)));
}

async function notedLight() {
  const noted = await caches.match("/light", { cacheName: LIGHT });
  return noted ? noted.json() : { chosen: "red", bright: "3" };
}

/* Show a kept page: it says when it was fetched, and has the light of now, not of then; at dusk by the nights it knows itself,
   as light.js on it goes by them too. */
async function shown(copy) {
  const light = await notedLight();
  const at = new Date(Number(copy.headers.get(AT)));
  const clock = at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  const today = at.toDateString() === new Date().toDateString();
  const day = today ? "" : `, ${at.toLocaleDateString("en-GB", { weekday: "short", day: "numeric", month: "short" })}`;
  const said = `<p id="kept" class="note" role="status">Kept copy of ${clock}${day}: there is no network.</p>`;
  const text = await copy.text(), [, twilit] = /data-twilit="([^"]*)"/.exec(text) || [];
  const told = relit(text, { ...light, twilit }).replace('<p id="kept" hidden></p>', said);
  return new Response(told, { headers: copy.headers });
}

function relit(text, { chosen, bright, twilit }) {
  const lit = isRed(chosen, twilit) ? "red" : "day";
  const end = text.indexOf(">", text.indexOf("<html"));
  const head = text.slice(0, end)
    .replace(/data-light="[a-z]*"/, `data-light="${lit}"`)
    .replace(/data-chosen="[a-z]*"/, `data-chosen="${/^(day|red|dusk)$/.test(chosen) ? chosen : "day"}"`)
    .replace(/data-bright="[0-9]*"/, `data-bright="${/^[1-5]$/.test(bright) ? bright : 5}"`);
  return head + text.slice(end)
    .replace(/(name="color-scheme" content=")[a-z]*"/, `$1${lit === "red" ? "dark" : "light"}"`)
    .replace(/(name="theme-color" content=")[#0-9a-f]*"/, `$1${lit === "red" ? "#000000" : "#ffffff"}"`);
}

/* Say that there is no network, and which pages are kept: the nights first, the coming one marked. */
async function nothing() {
  const kept = await keptPages(), of = (what) => kept.filter((one) => one.startsWith(`/${what}/`));
  const sheet = (await (await caches.open(COPIES)).keys()).map((one) => new URL(one.url))
    .find((one) => one.pathname === "/static/pages.css");
  const nights = of("night"), coming = nights.length && await comingOf(nights[0].split("/")[2]);
  const listed = (addresses) => addresses.map((one) =>
    `<li><a href="${one}">${dayOf(one)}</a>${one === coming ? ": <strong>the next night</strong>" : ""}</li>`).join("");
  const part = (words, addresses) => (addresses.length ? `<h2>${words}</h2><ul>${listed(addresses)}</ul>` : "");
  const years = of("year").map((one) => `<p><a href="${one}">The year</a></p>`).join("");
  const text = `<!doctype html><html lang="en" data-light="red" data-chosen="red" data-bright="3"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="dark">
<title>No network · Duskwright</title>${sheet ? `<link rel="stylesheet" href="${sheet.pathname}${sheet.search}">` : ""}</head>
<body><main><h1>No network</h1><p>This page needs one.${kept.length ? " These are kept on this device:" : ""}</p>
${part("Nights", nights)}${years}${part("The log", of("log"))}</main></body></html>`;
  return new Response(relit(text, await notedLight()), { status: 503, headers: {
    "Content-Type": "text/html; charset=utf-8",
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; base-uri 'none'; frame-ancestors 'none'",
  } });
}

/* As in "Sat 12 Dec". */
function dayOf(address) {
  const noon = new Date(`${eveningOf(address)}T12:00`);
  return noon.toLocaleDateString("en-GB", { weekday: "short", day: "numeric", month: "short" }).replace(",", "");
}
