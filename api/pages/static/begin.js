"use strict";
/* Plan from nothing, made nicer: towns as one types (the combobox of the WAI-ARIA Authoring Practices, an editable one
   with a list), a time zone proposed for a place, and what was typed given back to who comes back to the page. */
(() => {
  const form = document.querySelector("form.begin");
  const field = (name) => form.elements.namedItem(name);
  const ask = async (address) => {
    const answer = await fetch(address, { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error(String(answer.status));
    return answer.json();
  };

  /* What was typed ------------------------------------------------------------------------------------------------ */
  const name = `duskwright-begin-${form.dataset.club}`;
  const controls = [...form.elements].filter((one) => one.name && !["file", "hidden"].includes(one.type) && one.tagName !== "BUTTON");
  const valueOf = (one) => (one.type === "checkbox" ? one.checked : one.value);
  const blank = JSON.stringify(controls.map(valueOf));

  function keep() {
    const now = JSON.stringify(controls.map(valueOf));
    try {
      if ("fresh" in form.dataset && now === blank) sessionStorage.removeItem(name);
      else sessionStorage.setItem(name, now);
    } catch { /* no room, or not allowed: then nothing is given back */ }
  }

  function giveBack() {
    const kept = JSON.parse(sessionStorage.getItem(name) || "null");
    if (!Array.isArray(kept) || kept.length !== controls.length) return;
    controls.forEach((one, place) => {
      if (one.type === "checkbox") one.checked = kept[place];
      else one.value = kept[place];
    });
    const note = document.getElementById("given-back");
    note.hidden = false;
    note.querySelector("button").addEventListener("click", () => {
      sessionStorage.removeItem(name);
      form.reset();
      note.hidden = true;
    });
  }

  if ("fresh" in form.dataset) giveBack();
  else keep();
  form.addEventListener("input", keep);
  window.addEventListener("pagehide", keep);

  /* Sent once ------------------------------------------------------------------------------------------------------ */
  let sent = false;
  form.addEventListener("submit", (event) => {
    if (sent) event.preventDefault();
    sent = true;
  });
  window.addEventListener("pageshow", () => { sent = false; });

  /* The time zone -------------------------------------------------------------------------------------------------- */
  const zone = field("zone");
  const told = document.getElementById("town-told");
  let proposal = 0;
  const isOurs = () => zone.value === "" || zone.dataset.proposed === zone.value;

  async function proposeZone() {
    const mine = ++proposal; // answers may overtake each other, and somebody may type meanwhile
    const [latitude, longitude] = ["latitude", "longitude"].map((one) => Number(field(one).value.replace(",", ".")));
    const both = field("latitude").value.trim() !== "" && field("longitude").value.trim() !== "";
    if (!isOurs() || !both || !(Math.abs(latitude) <= 90 && Math.abs(longitude) <= 180)) return;
    try {
      const found = await ask(`/begin/zone?latitude_deg=${latitude}&longitude_deg=${longitude}`);
      if (mine !== proposal || !isOurs()) return;
      zone.value = zone.dataset.proposed = found.zone;
      told.textContent = `Time zone ${found.zone}, from ${found.near}, ${found.km} km away.`;
      keep();
    } catch { /* it can be written by hand */ }
  }

  for (const one of ["latitude", "longitude"]) field(one).addEventListener("change", proposeZone);

  /* Towns ---------------------------------------------------------------------------------------------------------- */
  const search = field("search");
  const list = document.getElementById("towns");
  let towns = [];
  let at = -1;
  let turn = 0;
  let timer = 0;
  search.setAttribute("role", "combobox");
  search.setAttribute("aria-autocomplete", "list");
  search.setAttribute("aria-controls", "towns");
  search.setAttribute("aria-expanded", "false");

  function close() {
    towns = [];
    at = -1;
    turn += 1;
    clearTimeout(timer);
    list.replaceChildren();
    list.hidden = true;
    search.setAttribute("aria-expanded", "false");
    search.removeAttribute("aria-activedescendant");
  }

  function mark(place) {
    at = place;
    [...list.children].forEach((one, here) => one.setAttribute("aria-selected", String(here === at)));
    if (at < 0) search.removeAttribute("aria-activedescendant");
    else {
      search.setAttribute("aria-activedescendant", `town-${at}`);
      list.children[at].scrollIntoView({ block: "nearest" });
    }
  }

  function choose(town) {
    proposal += 1;
    field("site_name").value = town.name;
    field("latitude").value = town.latitude_deg.toFixed(4);
    field("longitude").value = town.longitude_deg.toFixed(4);
    zone.value = zone.dataset.proposed = town.zone;
    search.value = "";
    close();
    told.textContent = `${town.name}, ${town.country}: place and time zone are filled in.`;
    keep();
  }

  function open(found) {
    close();
    towns = found;
    list.replaceChildren(...towns.map((town, place) => {
      const option = document.createElement("li");
      option.id = `town-${place}`;
      option.setAttribute("role", "option");
      option.setAttribute("aria-selected", "false");
      option.textContent = `${town.name}, ${town.country}`;
      option.addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps the focus
      option.addEventListener("click", () => choose(town));
      return option;
    }));
    list.hidden = towns.length === 0;
    search.setAttribute("aria-expanded", String(towns.length > 0));
    told.textContent = towns.length ? `${towns.length} towns; arrow keys to choose.` : "No town is called so.";
  }

  search.addEventListener("input", () => {
    clearTimeout(timer);
    const text = search.value.trim();
    if (text.length < 2) return close();
    timer = setTimeout(async () => {
      const mine = ++turn;
      try {
        const { places } = await ask(`/begin/places?q=${encodeURIComponent(text)}`);
        if (mine === turn) open(places);
      } catch { /* the button still finds */ }
    }, 150);
  });
  search.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && !list.hidden) close();
    else if (event.key === "ArrowDown" && towns.length) mark((at + 1) % towns.length);
    else if (event.key === "ArrowUp" && towns.length) mark((at <= 0 ? towns.length : at) - 1);
    else if (event.key === "Enter" && at >= 0) choose(towns[at]);
    else return;
    event.preventDefault();
  });
  search.addEventListener("blur", close);
  form.addEventListener("reset", close);
})();
