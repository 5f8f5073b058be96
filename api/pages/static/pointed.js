"use strict";
/* A picture whose nights or targets are links: what is pointed at, by mouse, finger or keyboard, is told in words below
   it. Arrow keys walk from one to the next; of the many links only one is a stop of the Tab key. A finger's first tap
   tells, its second opens. */
(() => {
  for (const place of document.querySelectorAll("[data-pointed]")) {
    const told = place.querySelector("[data-told]");
    let pointed = null;
    let finger = false;

    const shown = () => [...place.querySelectorAll("figure")].filter((one) => one.offsetParent !== null);
    const links = () => shown().flatMap((figure) => [...figure.querySelectorAll("a[data-evening], a[data-target]")]);

    function tell(link) {
      if (pointed) pointed.classList.remove("pointed-at");
      pointed = link;
      told.replaceChildren();
      if (!link) {
        told.textContent = matchMedia("(hover: none)").matches ? told.dataset.tap : told.dataset.hint;
        return;
      }
      link.classList.add("pointed-at");
      const open = document.createElement("a");
      open.href = link.getAttribute("href");
      open.textContent = "Open";
      told.append(`${link.getAttribute("aria-label")} `, open);
    }

    function stop(link) {
      for (const one of links()) one.setAttribute("tabindex", one === link ? "0" : "-1");
    }

    function walk(from, key) {
      const all = links();
      const at = all.indexOf(from);
      const box = from.getBoundingClientRect();
      if (key === "Home") return all[0];
      if (key === "End") return all[all.length - 1];
      if (key === "ArrowLeft") return all[at - 1];
      if (key === "ArrowRight") return all[at + 1];
      const down = key === "ArrowDown" ? 1 : -1;
      const row = all.filter((one) => (one.getBoundingClientRect().bottom - box.bottom) * down > 4);
      const near = Math.min(...row.map((one) => Math.abs(one.getBoundingClientRect().bottom - box.bottom)));
      const next = row.filter((one) => Math.abs(one.getBoundingClientRect().bottom - box.bottom) < near + 4);
      return next.sort((a, b) => Math.abs(a.getBoundingClientRect().x - box.x) - Math.abs(b.getBoundingClientRect().x - box.x))[0];
    }

    place.addEventListener("pointerdown", (event) => { finger = event.pointerType === "touch"; });
    place.addEventListener("pointerover", (event) => {
      const link = event.target.closest("figure a");
      if (link && event.pointerType === "mouse") tell(link);
    });
    place.addEventListener("focusin", (event) => {
      const link = event.target.closest("figure a");
      if (link && !finger) { tell(link); stop(link); }
    });
    place.addEventListener("click", (event) => {
      const link = event.target.closest("figure a");
      if (!link || !finger || link === pointed) return;
      event.preventDefault();
      tell(link);
      stop(link);
    });
    place.addEventListener("keydown", (event) => {
      const link = event.target.closest("figure a");
      if (!link || !["ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown", "Home", "End"].includes(event.key)) return;
      event.preventDefault();
      const next = walk(link, event.key);
      if (next) { stop(next); next.focus(); }
    });

    tell(null);
    told.setAttribute("aria-live", "polite");
    for (const figure of place.querySelectorAll("figure")) {
      const own = [...figure.querySelectorAll("a")];
      for (const one of own) one.setAttribute("tabindex", "-1");
      const first = figure.querySelector("a:not(.past)") || own[0];
      if (first) first.setAttribute("tabindex", "0");
    }
  }
})();
