"use strict";
/* How far a job has come, asked for every second or two; the page itself is loaded again when it has ended. A page that
   waits has #work, with the job's id as data-job (and data-plans where the work makes a plan, data-begun with its club
   where that plan is a first one), #stage and #done, a <progress max="1">. */
(() => {
  const work = document.getElementById("work");
  if (!work) return;
  const stage = document.getElementById("stage");
  const done = document.getElementById("done");
  const words = (text) => text.charAt(0).toUpperCase() + text.slice(1) + ".";

  function say(text) {
    if (stage.textContent !== text) stage.textContent = text; // said aloud only when it is something new
  }

  function forget(club) {
    try {
      sessionStorage.removeItem(`duskwright-begin-${club}`); // what was typed became the plan; begin.js kept it
    } catch { /* not allowed: then nothing was kept */ }
  }

  function show(job) {
    const { progress } = job;
    if (job.cancelling) say("Stopping.");
    else say(job.state === "waiting" ? "Waiting for its turn." : words(progress.stage || "beginning"));
    done.value = progress.fraction;
    done.textContent = `${Math.round(100 * progress.fraction)} %`;
    if (!progress.objective || progress.bound === null || !("plans" in work.dataset)) return;
    document.getElementById("objective").textContent = progress.objective.toFixed(1);
    document.getElementById("bound").textContent = progress.bound.toFixed(1);
    document.getElementById("worth").hidden = false;
  }

  async function look() {
    let wait = 1000;
    try {
      const answer = await fetch(`/jobs/${work.dataset.job}`, { headers: { Accept: "application/json" } });
      if (answer.ok) {
        const job = await answer.json();
        show(job);
        if (["done", "failed", "cancelled"].includes(job.state)) {
          say(job.state === "done" ? "Done." : "Ended.");
          if (job.state === "done" && "begun" in work.dataset) forget(work.dataset.begun);
          location.reload();
          return;
        }
      } else if (answer.status === 401 || answer.status === 404) {
        location.reload();
        return;
      } else wait = 1000 * Number(answer.headers.get("Retry-After") || 5);
    } catch {
      say("The service cannot be reached; asking again.");
      wait = 5000;
    }
    setTimeout(look, wait);
  }

  setTimeout(look, 500);
})();
