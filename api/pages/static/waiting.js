"use strict";
/* Shows what waits to be sent, on whatever page; sends it when a page is opened and when the network is back; and lets the
   keeper (keeper.js) keep the pages of the coming nights. */
(() => {
  const main = document.getElementById("main");
  let shown = null;

  function made(name, words, ...inside) {
    const element = document.createElement(name);
    if (words) element.textContent = words;
    element.append(...inside);
    return element;
  }

  function button(words, deed) {
    const pressed = made("button", words);
    pressed.type = "button";
    pressed.addEventListener("click", deed);
    return pressed;
  }

  function dropping(number) {
    const first = button("Drop it", () => {
      const sure = button("Really drop it", () => waitingLines.drop(number));
      first.replaceWith(sure);
      sure.focus();
    });
    return first;
  }

  function entry(line) {
    const item = made("li", "", made("strong", `${line.day}: `), `${line.words}. `);
    const here = `/log/${line.scenario}/${line.evening}`;
    const ways = made("div");
    ways.className = "row buttons";
    if (line.state === waitingLines.MEANWHILE) {
      item.append(made("span", line.reason, " "));
      const look = made("a", "See what the log has");
      look.href = here;
      item.append(" ", look);
      ways.append(button("Put mine over it", async () => {
        await waitingLines.insist(line.number);
        await send();
      }), button("Keep the log's", () => waitingLines.drop(line.number)));
    } else if (line.state === waitingLines.REFUSED) {
      const why = made("span", line.reason);
      why.className = "fault";
      const mend = made("a", "Mend it");
      mend.href = here;
      mend.className = "button";
      item.append(why);
      ways.append(mend, dropping(line.number));
    } else {
      item.append(made("span", line.reason || "Waiting to be sent."));
      ways.append(button("Send now", send));
      if (line.state === waitingLines.SHUT) ways.append(dropping(line.number));
    }
    item.append(ways);
    return item;
  }

  async function show() {
    let lines = [];
    try {
      lines = await waitingLines.all();
    } catch {
      return;  // no place to keep anything in: forms are sent as they are
    }
    if (!shown) {
      if (!lines.length) return;
      shown = made("section");
      shown.className = "waiting note";
      shown.setAttribute("aria-labelledby", "waiting");
      main.prepend(shown);
    }
    const heading = made("h2", lines.length === 1 ? "One night is not in the log yet" : `${lines.length} nights are not in the log yet`);
    heading.id = "waiting";
    const said = made("p", lines.length === 1 ? "It is kept on this device." : "They are kept on this device.");
    shown.replaceChildren(heading, said, made("ul", "", ...lines.map(entry)));
    shown.hidden = !lines.length;
  }

  async function send() {
    try {
      if ((await waitingLines.all()).length) await waitingLines.send();
    } catch {
      // the next page tries again
    }
  }

  /* Say what arrived, unless the page that sent it leads on by itself. */
  function arrivedToo(arrived) {
    for (const line of arrived.filter((one) => `${one.number}` !== document.body.dataset.saving)) {
      const way = made("a", line.next.startsWith("/progress/") ? "See what it changes" : "See it");
      way.href = line.next;
      const said = made("p", "", made("strong", `${line.day} is in the log now. `), way);
      said.className = "note";
      said.setAttribute("role", "status");
      main.prepend(said);
    }
  }

  waitingLines.onChange((arrived) => {
    arrivedToo(arrived);
    show();
    const keeper = navigator.serviceWorker && navigator.serviceWorker.controller;
    for (const scenario of new Set(arrived.map((one) => one.scenario))) keeper?.postMessage({ keep: scenario });
  });
  window.addEventListener("online", send);
  show().then(send);

  if (!("serviceWorker" in navigator) || !window.isSecureContext) return;

  const ours = window.trustedTypes && window.trustedTypes.createPolicy("keeper", {
    createScriptURL: (address) => {
      if (address !== "/keeper.js") throw new TypeError(address);
      return address;
    },
  });

  /* A kept page knows of no newer nights than the keeper does. */
  function lit() {
    const { chosen, bright, twilit = "" } = document.documentElement.dataset;
    return isKept() ? { chosen, bright } : { chosen, bright, twilit };
  }

  function isKept() {
    return !document.getElementById("kept").hidden;
  }

  async function keep() {
    await navigator.serviceWorker.register(ours ? ours.createScriptURL("/keeper.js") : "/keeper.js", { scope: "/" });
    const ready = await navigator.serviceWorker.ready;
    const tell = (message) => ready.active && ready.active.postMessage(message);
    tell({ light: lit() });
    new MutationObserver(() => tell({ light: lit() })).observe(
      document.documentElement, { attributes: true, attributeFilter: ["data-chosen", "data-bright"] });
    const found = /^\/(?:year|night|log)\/([0-9a-f]{20})(?:\/|$)/.exec(location.pathname);
    if (found && navigator.onLine && !isKept()) tell({ keep: found[1] });
  }

  keep().catch(() => {});  // without a keeper the pages need the network, and nothing else changes
})();
