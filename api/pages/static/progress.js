"use strict";
/* A page that waits for a job. What it needs on the page:

   #job                 data-job: the id of the job; data-then: the address to load once it has ended
   #job-progress        a <progress max="1">, whose value is set
   #job-stage           what is being done, in words; aria-live="polite", so it is changed only when the words change
   #job-trouble         hidden; shown while the service cannot be reached

   The page itself shows how the job stands when it is loaded; without script one loads it again. */
(() => {
  const place = document.getElementById("job");
  if (!place) return;
  const bar = document.getElementById("job-progress");
  const stage = document.getElementById("job-stage");
  const trouble = document.getElementById("job-trouble");
  const ENDED = ["done", "failed", "cancelled"];
  const LONGEST_MS = 5000;
  let pause = 500;

  async function look() {
    try {
      const answer = await fetch(`/jobs/${place.dataset.job}`, { headers: { Accept: "application/json" }, cache: "no-store" });
      if (answer.status === 401 || answer.status === 404) return location.replace(place.dataset.then);
      if (!answer.ok) throw new Error(String(answer.status));
      const job = await answer.json();
      trouble.hidden = true;
      if (ENDED.includes(job.state)) return location.replace(place.dataset.then);
      bar.value = job.progress.fraction;
      const words = job.cancelling ? "stopping" : job.state === "waiting" ? "waiting for its turn" : job.progress.stage;
      if (stage.textContent !== words) stage.textContent = words;
    } catch {
      trouble.hidden = false;
    }
    pause = Math.min(LONGEST_MS, pause * 1.3);
    setTimeout(look, pause);
  }

  setTimeout(look, pause);
})();
