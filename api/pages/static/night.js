"use strict";
/* The night's page: which look is on now, the sheet to print, and what is packed already. */
(() => {
  const looks = [...document.querySelectorAll(".look[data-start]")];
  const box = document.getElementById("now");

  function told(part, look, at) {
    part.hidden = !look;
    if (!look) return;
    const link = part.querySelector("a");
    if (link.hash === `#${look.id}`) return;
    link.textContent = look.dataset.name;
    link.hash = look.id;
    const time = look.querySelectorAll("time")[at];
    part.querySelector("time").textContent = time.textContent;
    part.querySelector("time").dateTime = time.dateTime;
    part.querySelector(".to").textContent = look.querySelector(".where strong").textContent;
  }

  function mark() {
    const now = Date.now() / 1000;
    const on = looks.find((look) => Number(look.dataset.start) <= now && now < Number(look.dataset.end));
    const following = looks.find((look) => now < Number(look.dataset.start));
    for (const look of looks) {
      if (look === on) look.setAttribute("aria-current", "time");
      else look.removeAttribute("aria-current");
    }
    told(box.querySelector(".on"), on, 1);
    told(box.querySelector(".following"), following, 0);
    box.querySelector(".word").textContent = following === looks[0] ? "First" : "Next";
    box.querySelector(".over").hidden = Boolean(on || following);
  }

  if (box && looks.length) {
    mark();
    setInterval(mark, 20000);
    document.addEventListener("visibilitychange", () => document.hidden || mark());
  }

  const print = document.querySelector("button.print");
  if (print) {
    print.hidden = false;
    document.querySelector(".by-hand").hidden = true;
    print.addEventListener("click", () => window.print());
  }

  /* Phones forget a page in the pocket; what is ticked stays on this device until it is closed. */
  const boxes = [...document.querySelectorAll(".kit input")];
  const kept = `packed ${location.pathname}`;
  try {
    const packed = JSON.parse(sessionStorage.getItem(kept)) || [];
    boxes.forEach((one, at) => { one.checked = packed.includes(at); });
    document.addEventListener("change", () => {
      sessionStorage.setItem(kept, JSON.stringify(boxes.flatMap((one, at) => (one.checked ? [at] : []))));
    });
  } catch { /* a browser that keeps nothing */ }
})();
