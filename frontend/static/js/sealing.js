// The seal order on the wall clock: the clock runs, the pair whose turn it is stands out,
// and what is sealed meanwhile is fetched. Without this script the page stands as it was
// opened.
import { pageOf, swap } from "./answer.js";

const wall = () => document.querySelector("[data-wall]");
let ahead = Date.parse(wall().dateTime) - Date.now(); // the shop's clock, not the device's

function tick() {
  const now = Date.now() + ahead;
  const el = wall();
  el.textContent = new Intl.DateTimeFormat("en-GB", { timeZone: el.dataset.zone, timeStyle: "medium" }).format(now);
  for (const li of document.querySelectorAll("[data-from]")) {
    const turn = Date.parse(li.dataset.from) <= now && now < Date.parse(li.dataset.until);
    li.classList.toggle("now", turn);
    if (turn) li.setAttribute("aria-current", "step");
    else li.removeAttribute("aria-current");
  }
}

async function refresh() {
  try {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    if (!answer.ok || answer.redirected) return;
    swap(await pageOf(answer));
    ahead = Date.parse(wall().dateTime) - Date.now();
    tick();
  } catch {
    // no signal: the clock runs on
  }
}

tick();
setInterval(tick, 1000);
setInterval(refresh, 10000);
