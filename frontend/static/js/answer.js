// What the scanning pages do with an answer: put its parts in place, read it aloud and
// beep.
import { beep } from "./beep.js";

const aloud = document.createElement("div");
aloud.className = "sr";
aloud.setAttribute("aria-live", "assertive");
document.body.append(aloud);

export function say(text, right) {
  aloud.textContent = "";
  requestAnimationFrame(() => (aloud.textContent = text));
  beep(right);
}

// tell says the result that stands on the page, if there is one.
export function tell() {
  const res = document.querySelector("[data-scan-result]");
  if (res) say(res.textContent.trim(), res.dataset.scanResult === "right");
}

// swap replaces every element with data-swap by the one of the same id.
export function swap(page) {
  for (const old of document.querySelectorAll("[data-swap]")) {
    const now = page.getElementById(old.id);
    if (now) old.replaceWith(document.importNode(now, true));
  }
}

export const pageOf = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html");
