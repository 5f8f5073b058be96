"use strict";
/* The form of the log: one tap for all, names found while one types, and saving that needs no network. Without this the
   form does the same, a page at a time. */
(() => {
  const form = document.getElementById("log");
  const fault = document.getElementById("fault");
  const radios = (name) => [...form.querySelectorAll("input[type=radio]")].filter((one) => one.name === name);

  const early = document.getElementById("early");
  if (early && Date.now() / 1000 >= Number(early.dataset.opens)) {  // a kept copy is opened when its night has come
    early.remove();
    form.hidden = false;
  }

  /* all seen: what has no mark of its own */
  const all = form.querySelector("[name=all]");
  const planned = [...document.querySelectorAll("#programme fieldset")];
  if (all) {
    all.addEventListener("change", () => {
      for (const target of planned) {
        const marked = target.querySelector("input:checked");
        const seen = target.querySelector("input[value=seen]");
        if (all.checked && (!marked || !marked.value)) {
          seen.checked = true;
          seen.dataset.by = "all";
        } else if (!all.checked && seen.checked && seen.dataset.by === "all") seen.checked = false;
      }
    });
  }
  form.addEventListener("change", (event) => {
    const { type, name } = event.target;
    if (type === "radio" && name.startsWith("target:")) {
      for (const one of radios(name)) delete one.dataset.by;
      if (all) all.checked = false;
    }
    fault.hidden = true;
  });
  let touched = false, saving = false;
  for (const sort of ["change", "input"]) form.addEventListener(sort, () => { touched = true; });

  /* another target of the wish-list */
  const names = [...document.querySelectorAll("#rest li")].map((one) => one.textContent);
  const others = document.getElementById("others"), found = document.getElementById("found");
  const find = document.getElementById("find");

  function addTarget(name, value = "") {
    if (radios(`target:${name}`).length) return;
    const target = document.createElement("fieldset"), legend = document.createElement("legend");
    const marks = document.createElement("div");
    target.className = "target";
    marks.className = "marks";
    legend.textContent = name;
    for (const [mark, words] of [["seen", "Seen"], ["poorly", "Poorly"], ["not", "Not seen"], ["", "×"]]) {
      const label = document.createElement("label"), input = document.createElement("input");
      const told = document.createElement("span");
      label.className = mark ? "choice" : "choice undo";
      input.type = "radio";
      input.name = `target:${name}`;
      input.value = mark;
      input.checked = Boolean(mark) && mark === value;
      told.textContent = words;
      if (!mark) input.setAttribute("aria-label", "Not told");
      label.append(input, told);
      marks.append(label);
    }
    target.append(legend, marks);
    others.append(target);
    return target;
  }

  function look() {
    const words = find.value.toLowerCase().split(/\s+/).filter(Boolean);
    const close = names.filter((name) => words.length && words.every((word) => name.toLowerCase().includes(word))
      && !radios(`target:${name}`).length).slice(0, 12);
    found.className = "found";
    found.replaceChildren(...close.map((name) => {
      const add = document.createElement("button");
      add.type = "button";
      add.textContent = name;
      add.addEventListener("click", () => {
        const target = addTarget(name);
        find.value = "";
        found.replaceChildren();
        if (target) target.querySelector("input").focus();
      });
      return add;
    }));
  }
  find.addEventListener("input", look);
  document.getElementById("finder").addEventListener("click", (event) => {
    event.preventDefault();
    look();
  });

  /* what waits on this device comes before what the log had */
  async function fill() {
    const here = await waitingLines.all();
    const line = here.filter((one) => one.scenario === form.dataset.scenario && one.evening === form.dataset.evening).at(-1);
    if (!line) return;
    for (const input of form.querySelectorAll("input[type=radio], input[type=checkbox]")) input.checked = false;
    for (const name of ["usable_min", "sky_brightness", "notes"]) form.elements.namedItem(name).value = "";
    for (const [name, value] of line.fields) {
      if (name.startsWith("target:") && value) addTarget(name.slice("target:".length), value);
      if (["key", "over", "find"].includes(name)) continue;
      const inputs = [...form.elements].filter((one) => one.name === name && one.tagName !== "BUTTON");
      for (const input of inputs) {
        if (["radio", "checkbox"].includes(input.type)) input.checked = input.value === value;
        else if (input.type !== "hidden") input.value = value;
      }
    }
    for (const details of form.querySelectorAll("details")) {
      if (details.querySelector("input:checked") || [...details.querySelectorAll("textarea, [name=sky_brightness]")].some((one) => one.value)) {
        details.open = true;
      }
    }
  }

  /* saving */
  function inWords(fields) {
    const count = { seen: 0, poorly: 0, not: 0 };
    for (const [name, value] of fields) if (name.startsWith("target:") && value) count[value] += 1;
    const said = [[count.seen, "seen"], [count.poorly, "seen poorly"], [count.not, "not seen"]];
    const went = fields.find(([name]) => name === "went")[1];
    if (went !== "clear" && went !== "part-clear") return went;
    return [went, ...said.filter(([many]) => many).map(([many, words]) => `${many} ${words}`)].join(", ");
  }

  function tell(words) {
    fault.textContent = words;
    fault.hidden = false;
    fault.scrollIntoView({ block: "center" });
  }

  form.addEventListener("submit", async (event) => {
    const then = (event.submitter && event.submitter.value) || "save";
    event.preventDefault();
    if (saving) return;
    if (then === "find") return look();
    const fields = [...new FormData(form)].filter(([name]) => !["key", "find", "all"].includes(name));
    if (!fields.some(([name]) => name === "went")) {
      tell("Say first how the night was.");
      form.querySelector("[name=went]").focus();
      return;
    }
    saving = true;
    try {
      await save(fields, then);
    } finally {
      saving = false;
    }
  });

  async function save(fields, then) {
    const { scenario, evening, day } = form.dataset;
    const line = {
      scenario, evening, day, words: inWords(fields), over: Number(form.elements.over.value),
      fields: [...fields.filter(([name]) => name !== "over"), ["then", then]],
    };
    let number;
    try {
      number = await waitingLines.add(line);
    } catch {
      return unkept(line, then);
    }
    document.body.dataset.saving = number;
    await waitingLines.send();
    if (!(await waitingLines.all()).some((one) => one.number === number)) return;  // it arrived, and leads on
    delete document.body.dataset.saving;
    navigator.serviceWorker?.ready.then((ready) => ready.sync?.register("lines")).catch(() => {});
    document.getElementById("waiting")?.scrollIntoView({ block: "start" });
    const section = document.querySelector(".waiting");
    if (section) {
      section.tabIndex = -1;
      section.focus();
    }
  }

  /* Nowhere to keep it on this device: send it now, or stay with what was written. */
  async function unkept(line, then) {
    const answer = await waitingLines.posted({ ...line, key: form.elements.namedItem("key").value });
    if (answer.next) location.assign(answer.next);
    else if (answer.unreached) tell("This device can keep nothing, and there is no network: nothing is saved yet. Stay on this page and save again later.");
    else {
      form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "then", value: then }));
      form.submit();  // the page that comes says what is wrong
    }
  }

  /* Once a line of this night has arrived, what is written now is written over that one; what was saved here leads on. */
  waitingLines.onChange((arrived) => {
    const saved = arrived.find((one) => `${one.number}` === document.body.dataset.saving);
    if (saved) location.assign(saved.next);
    const here = arrived.filter((one) => one.scenario === form.dataset.scenario && one.evening === form.dataset.evening).at(-1);
    if (!here) return;
    form.elements.over.value = here.line;
    if (!touched && !saving) location.replace(here.next);
  });

  fill().catch(() => {});
})();
