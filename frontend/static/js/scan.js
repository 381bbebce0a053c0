// Scanning one tag after another without touching the screen.
//
//   <form method="post" data-scan-form> … <input data-scan> … </form>
//   <div id="result" data-swap><p data-scan-result="right" role="status">…</p></div>
//
// Without this script the form is sent and the page comes back with the result.
// With it the same answer is fetched, every element with data-swap is replaced by
// the one of the same id, the result is read aloud and beeped, and the box is
// ready for the next tag. A tag that did not reach the shop stays in the box.
import { pageOf, say, swap, tell } from "./answer.js";

const box = document.querySelector("[data-scan]");
const form = box?.form;

const ready = () => {
  box.focus({ preventScroll: true });
  box.select();
};

// The last tag's answer goes: nobody may take it for this one's.
function failed(text) {
  document.querySelectorAll("[data-swap]").forEach((el) => el.replaceChildren());
  let p = document.querySelector("[data-scan-failed]");
  if (!p) {
    p = document.createElement("p");
    p.dataset.scanFailed = "";
    p.className = "result wrong";
    form.before(p);
  }
  p.textContent = text;
  say(text, false);
}

let busy = false;

async function send(event) {
  event.preventDefault();
  if (busy || !box.value.trim()) return;
  busy = true;
  try {
    const answer = await fetch(form.action, {
      method: "POST",
      body: new URLSearchParams(new FormData(form, event.submitter)),
      headers: { Accept: "text/html" },
    });
    const page = await pageOf(answer);
    if (!page.querySelector("[data-scan]")) {
      // Another page altogether: signed out, an error, the next step.
      if (answer.redirected) location.assign(answer.url);
      else failed(page.querySelector("h1")?.textContent || `Not taken (${answer.status}). Scan again.`);
      return;
    }
    document.querySelector("[data-scan-failed]")?.remove();
    swap(page);
    for (const hidden of form.querySelectorAll("input[type=hidden]")) {
      const now = page.querySelector(`[data-scan-form] input[name="${CSS.escape(hidden.name)}"]`);
      if (now) hidden.value = now.value;
    }
    box.value = page.querySelector("[data-scan]").value;
    tell();
  } catch {
    failed("No signal: not sent. Scan again when it is back.");
  } finally {
    busy = false;
    ready();
  }
}

if (form) {
  form.addEventListener("submit", send);
  // A touch beside every control gives the box back its focus; the Tab key and
  // real controls keep theirs.
  document.addEventListener("click", (e) => {
    if (!e.target.closest("a, button, input, select, textarea, label, summary")) ready();
  });
  window.addEventListener("focus", () => document.activeElement === document.body && ready());
  ready();
  tell();
}
