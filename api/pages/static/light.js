"use strict";
/* The light of a page: day, red, or red after dusk. The server reads the same cookie, so that a page is red from
   its first moment on; here it only changes without loading the page again. */
(() => {
  const root = document.documentElement;
  const year = 60 * 60 * 24 * 400;

  function light() {
    const red = isRed(root.dataset.chosen, root.dataset.twilit);
    root.dataset.light = red ? "red" : "day";
    document.querySelector('meta[name="color-scheme"]').content = red ? "dark" : "light";
    document.querySelector('meta[name="theme-color"]').content = red ? "#000000" : "#ffffff";
    /* Calendars and clocks that browsers open above a page are never red: in red one types instead. */
    for (const field of document.querySelectorAll("input[type=date], input[type=time], input[data-type]")) {
      field.dataset.type ||= field.type;
      field.type = red ? "text" : field.dataset.type;
    }
    for (const button of document.querySelectorAll(".light button[name=light]")) {
      button.setAttribute("aria-pressed", String(button.value === root.dataset.chosen));
    }
    const told = document.querySelector(".light .bright");
    told.textContent = `${root.dataset.bright}/5`;
    told.setAttribute("aria-label", `Brightness ${root.dataset.bright} of 5`);
  }

  function keep() {
    const secure = location.protocol === "https:" ? "; Secure" : "";
    document.cookie = `duskwright-light=${root.dataset.chosen}-${root.dataset.bright}; Path=/; Max-Age=${year}; SameSite=Strict${secure}`;
  }

  document.querySelector("form.light").addEventListener("submit", (event) => {
    const button = event.submitter;
    if (!button) return;
    event.preventDefault();
    if (button.name === "light") root.dataset.chosen = button.value;
    else {
      const step = Number(root.dataset.bright) + (button.value === "+" ? 1 : -1);
      root.dataset.bright = String(Math.min(5, Math.max(1, step)));
    }
    keep();
    light();
  });

  light();
  setInterval(light, 20000);
})();
