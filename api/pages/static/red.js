"use strict";
/* Tells whether a page is red now. Pages (light.js) and the keeper have the same file, and the server goes by the same rule.

   `twilit` is from when to when it is dark on the coming nights, as in "1799431200-1799478000.1799517660-1799564460", in Unix
   seconds. After the last of them nobody knows: it is red then, the safe side for eyes that are used to the dark. */
function isRed(chosen, twilit = "") {
  if (chosen !== "dusk") return chosen === "red";
  const now = Date.now() / 1000;
  const nights = twilit.split(".").map((one) => one.split("-").map(Number));
  const next = nights.find(([, dawn]) => now < dawn);
  return next ? now >= next[0] : twilit !== "";
}
