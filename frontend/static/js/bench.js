// The bench, with and without signal.
//
// Every step is first written on the device, with the time it was done, and then sent.
// What cannot be sent waits, through a reload and a closed tab, and is sent when the
// signal is back: as often as it takes, since the shop counts it once by its key. What
// the shop answers is shown; a refusal stays until a person takes it away. Meanwhile the
// page goes on by the bench sheet, which holds the shop's own limits.
//
// Without this script the forms are sent as they stand.
import { pageOf, say, swap, tell } from "./answer.js";
import * as store from "./bench-store.js";
import * as rules from "./bench-rules.js";

const main = document.querySelector("main");
const box = document.querySelector("[data-scan]");
const scanForm = box.form;
const patience = 8000;

let sheet; // the bench sheet, once fetched
let forms; // the page a device keeps: its templates
let signal = navigator.onLine;
let device;
let signedOut = false;

const now = () => new Date(Date.now() + (sheet?.ahead ?? 0));
const iso = (d) => d.toISOString().slice(0, 19) + "Z";
const at = (done) => rules.clock(done, sheet?.zone ?? "UTC");
const ready = () => {
  box.focus({ preventScroll: true });
  box.select();
};

class NoSignal extends Error {}

async function ask(path, options = {}) {
  let answer;
  try {
    answer = await fetch(path, { signal: AbortSignal.timeout(patience), ...options });
  } catch {
    signal = false;
    throw new NoSignal();
  }
  if (answer.status >= 502 && answer.status <= 504) {
    signal = false;
    throw new NoSignal();
  }
  signal = true;
  return answer;
}

async function fetchSheet() {
  const answer = await ask("/api/v1/bench/sheet");
  signedOut = answer.status === 401;
  if (!answer.ok) return false;
  sheet = await answer.json();
  sheet.ahead = Date.parse(sheet.at) - Date.now(); // the shop's clock counts, not the device's
  await store.keepSheet(sheet);
  return true;
}

// What the steps are called, and what the shop's door calls their boxes.
const done = {
  cut: "cut", correct: "corrected", seat: "weighed at the seat", pick: "spice chosen", kit: "kitted", weigh: "weighed out", swap: "swapped", seal: "sealed", move: "carried",
  rinse: "rinsed", hang: "hung", out: "out of the smoke", pack: "packed", shelve: "put on the shelf", freeze: "put in the freezer", giveup: "given up", scale: "checked",
};
const names = { drained: "weight", hook: "place", temp: "core", cure: "curing_salt", skin: "skin_on" };
const with_unit = (text, unit) => (/[a-z]\s*$/i.test(text) ? text : `${text} ${unit}`);

function body(st) {
  const b = { step: st.step === "giveup" ? "give-up" : st.step, done_at: st.done };
  for (const [name, text] of Object.entries(st.fields)) {
    const v = text.trim();
    if (!v || name === "tag" || name === "once" || name === "other") continue;
    if (name === "skin") b.skin_on = v === "on";
    else if (name === "guest_yes") b.guest_yes = true;
    else if (name === "weight" || name === "drained") b.weight = with_unit(v, "lb");
    else if (name === "temp") b.core = with_unit(v, "F");
    else b[names[name] ?? name] = v;
  }
  return b;
}

function door(st) {
  if (st.step === "scale") return [`/api/v1/scales/${encodeURIComponent(st.fields.scale ?? "")}/checks`, { shown: with_unit(st.fields.shown ?? "", "g"), done_at: st.done }];
  const slab = `/api/v1/slabs/${encodeURIComponent(st.tag)}`;
  if (st.step === "swap") return [slab + "/swap", { with: st.fields.other, done_at: st.done }];
  return [slab + "/steps", body(st)];
}

// again are refusals that may come right when another step has arrived.
const again = new Set(["not_yet", "no_weigh_out", "no_spice", "no_spice_weighed", "no_load"]);

// sendOne sends a step and notes the answer on it.
async function sendOne(st) {
  const [path, data] = door(st);
  const answer = await ask(path, { method: "POST", body: JSON.stringify(data), headers: { "Content-Type": "application/json", "Idempotency-Key": st.key, Device: device } });
  const text = await answer.text();
  const said = text ? JSON.parse(text) : {};
  if (answer.ok) return { counted: true, said };
  if (answer.status === 401) return { signIn: true };
  if (answer.status === 429 || answer.status >= 500) return { later: true, text: said.detail };
  return { counted: false, code: said.code, text: said.detail, errors: said.errors ?? [] };
}

// send goes through the waiting steps in the order they were done, and again as long as
// one more is counted: a step may wait for another device's. One tab at a time.
let sending;
const send = () => (sending ??= inTurn(sendAll).finally(() => (sending = undefined)));
const inTurn = (f) => (navigator.locks ? navigator.locks.request("bench-send", f) : f());

async function sendAll() {
  const answers = new Map();
  for (let more = true; more; ) {
    more = false;
    for (const st of await store.steps()) {
      if (st.answer) continue;
      if (sheet?.by && st.by && st.by !== sheet.by) {
        st.note = `${st.by} signs in on this device to send it`;
        await store.put(st);
        continue;
      }
      let a;
      try {
        a = await sendOne(st);
      } catch (e) {
        if (e instanceof NoSignal) return answers;
        a = { later: true, text: "no answer that can be read" };
      }
      answers.set(st.key, a);
      if (a.signIn) return answers;
      if (a.counted) {
        more = true;
        st.answer = { counted: true };
      } else if (a.later) st.note = a.text;
      else if (again.has(a.code)) st.note = a.text;
      else st.answer = { counted: false, text: a.text };
      await store.put(st);
      if (a.counted && st.live) await store.drop(st.key);
    }
  }
  return answers;
}

// What waits and what became of it: the count and the refusals above the box, the rest
// below the slab, so that the box stays under the thumb.
function panel(label) {
  const s = document.createElement("section");
  s.className = "waiting";
  s.hidden = true;
  s.setAttribute("aria-label", label);
  return s;
}
const first = panel("Steps of this device");
const oneByOne = panel("Steps of this device, one by one");
scanForm.before(first);
main.append(oneByOne);

const refused = (st) => st.answer && !st.answer.counted;
const plural = (n, one, many) => `${n} ${n === 1 ? one : many}`;
const name = (st) => `${st.tag || st.fields.scale} ${done[st.step]} ${at(st.done)}`;

async function show() {
  const all = (await store.steps()).filter((st) => !st.live || !st.answer);
  first.hidden = all.length === 0;
  first.replaceChildren();
  oneByOne.replaceChildren();
  oneByOne.hidden = !all.some((st) => !refused(st));
  if (!all.length) return;
  const waiting = all.filter((st) => !st.answer);
  const head = document.createElement("p");
  head.dataset.waiting = waiting.length;
  head.innerHTML = "<strong></strong>";
  head.firstChild.textContent = waiting.length ? `${plural(waiting.length, "step waits", "steps wait")} on this device${signal ? "." : ": no signal."}` : "Everything of this device is sent.";
  const lines = [];
  for (const st of all) {
    const li = document.createElement("li");
    li.dataset.step = st.key;
    const result = st.answer ? (st.answer.counted ? "counted" : "refused: " + st.answer.text) : "waits" + (st.note ? ": " + st.note : "");
    li.className = st.answer ? (st.answer.counted ? "counted" : "refused") : "open";
    li.textContent = `${name(st)}: ${result}`;
    if (st.answer && !st.answer.counted) li.append(button("Take this away", () => store.drop(st.key)));
    else if (!st.answer && st.note) li.append(button("It was not done: take it away", () => store.drop(st.key)));
    lines.push([st, li]);
  }
  first.append(head);
  if (signedOut && waiting.length) {
    const a = document.createElement("a");
    a.className = "button";
    a.href = "/login?then=/staff/bench";
    a.textContent = "Sign in to send them";
    first.append(a);
  }
  const [above, below] = [document.createElement("ul"), document.createElement("ul")];
  for (const [st, li] of lines) (refused(st) ? above : below).append(li);
  if (above.children.length) first.append(above);
  if (below.children.length) oneByOne.append(below);
  const counted = all.filter((st) => st.answer?.counted);
  if (counted.length) oneByOne.append(button(`Seen: ${counted.length} counted`, () => Promise.all(counted.map((st) => store.drop(st.key)))));
}

function button(text, press) {
  const b = document.createElement("button");
  b.type = "button";
  b.className = "quiet";
  b.textContent = text;
  b.addEventListener("click", async () => {
    await press();
    await show();
    ready();
  });
  return b;
}

function result(right, text) {
  const p = document.createElement("p");
  p.className = "result " + (right ? "right" : "wrong");
  p.dataset.scanResult = right ? "right" : "wrong";
  p.setAttribute("role", "status");
  p.textContent = text;
  document.querySelector("#result").replaceChildren(p);
  say(text, right);
  if (!right) p.scrollIntoView({ block: "center" });
}

// A slab's page without signal.
let awayTag = "";
async function showAway(tag) {
  awayTag = tag;
  const slab = document.querySelector("#slab");
  slab.replaceChildren();
  if (!sheet || !forms) return result(false, "No signal, and nothing is kept on this device. Open the bench once where there is signal.");
  const bench = rules.now(sheet, await store.steps());
  const s = bench.slabs.get(tag);
  if (!s) return result(false, `No signal, and ${tag} is not on this device's sheet of ${rules.weekday(sheet.at, sheet.zone)} ${at(sheet.at)}.`);
  const card = document.createElement("section");
  card.className = "card";
  card.setAttribute("aria-label", "Slab " + tag);
  const add = (kind, text, cls) => {
    const el = document.createElement(kind);
    el.textContent = text;
    if (cls) el.className = cls;
    card.append(el);
    return el;
  };
  add("p", tag, "tag");
  add("p", `No signal. As of ${rules.weekday(sheet.at, sheet.zone)} ${at(sheet.at)}, with what was done on this device since.`, "note wait");
  const facts = add("dl", "", "facts");
  const fact = (dl, name, text) => {
    for (const [kind, t] of [["dt", name], ["dd", text]]) dl.append(Object.assign(document.createElement(kind), { textContent: t }));
  };
  fact(facts, "State", s.state);
  fact(facts, s.green ? "Green" : "Planned", rules.pounds(s.green ?? s.planned) + (s.skin_on ? ", skin on" : ", skinless"));
  if (s.jar) fact(facts, "Spice", `${s.spice} ${s.jar}${s.allergens ? `: carries ${s.allergens}` : ""}`);
  if (s.place) fact(facts, "Place", s.place);
  if (s.hook) fact(facts, "Hook", s.hook);
  const form = (step) => {
    const f = document.importNode(forms.querySelector(`template[data-step="${step}"]`).content, true);
    for (const tagBox of f.querySelectorAll("input[name=tag]")) tagBox.value = tag;
    card.append(f);
    return card.lastElementChild;
  };
  if (s.state === "on hold") add("p", `On hold since ${rules.weekday(s.held_since, sheet.zone)} ${at(s.held_since)}: ${s.held_for}. Nothing moves until a named person decides.`, "note stop");
  else if (s.state === "kitted") weighing(s, bench, card, add, form);
  else if (s.state === "in cure" && (!s.unbag_from || rules.day(now(), sheet.zone) < s.unbag_from)) add("p", s.unbag_from ? `May leave its bag from ${s.unbag_from}.` : "In cure.", "note wait");
  else {
    const step = Object.keys(rules.moves).find((k) => rules.moves[k][0] === s.state);
    if (step) form(step);
    else add("p", "Nothing more is done to this slab without signal.", "note");
  }
  if (s.state === "cut" || s.state === "kitted") form("seat");
  slab.append(card);
}

function weighing(s, bench, card, add, form) {
  if (!s.ticket) return add("p", "Its kit is not on this device: weigh it where there is signal.", "note stop");
  const dl = document.createElement("dl");
  dl.className = "weigh";
  const tile = (name, text, cls) => {
    const d = document.createElement("div");
    d.innerHTML = "<dt></dt><dd></dd>";
    d.firstChild.textContent = name;
    d.lastChild.textContent = text;
    if (cls) d.className = cls;
    dl.append(d);
  };
  tile("Slab", `${rules.pounds(s.green)} ${s.skin_on ? "skin ON" : "skinless"}`);
  tile("Salt", rules.grams(s.ticket.salt, 0));
  tile("Sugar", rules.grams(s.ticket.sugar, 0));
  tile("Curing salt", rules.grams(s.ticket.curing_salt, 1), "pink");
  const spice = rules.weight(s.ticket.spice) > 0 && !s.ask;
  tile(spice ? `Spice ${s.spice}` : "Spice", spice ? rules.grams(s.ticket.spice, 0) : s.ask ? "the guest chooses" : "none");
  card.append(dl);
  add("p", "Curing salt is poisonous beyond its dose. Grams on the checked scale, never spoons.", "note wait");
  if (!bench.scales.some((x) => x.fine && x.checked)) return form("scale");
  if (s.weighed) {
    add("p", "The cure of this slab has passed. Seal it.", "result right");
    return form("seal");
  }
  const f = form("weigh");
  if (!spice) f.querySelector("[name=spice]")?.closest(".field").remove();
}

// Scanning a tag.
let busy = false;
let scanning; // the scan under way

function scan(event) {
  event.preventDefault();
  const tag = box.value.trim().toUpperCase();
  if (busy || !tag) return;
  busy = true;
  scanning = find(tag, event.submitter).finally(() => {
    busy = false;
    scanning = undefined;
    ready();
    show();
  });
}

async function find(tag, submitter) {
  if (signal) {
    try {
      const answer = await ask(scanForm.action, { method: "POST", body: new URLSearchParams(new FormData(scanForm, submitter)), headers: { Accept: "text/html" } });
      const page = await pageOf(answer);
      if (page.querySelector("[data-scan]")) {
        swap(page);
        awayTag = "";
        history.replaceState(null, "", answer.redirected ? answer.url : "/staff/bench");
        box.value = page.querySelector("[data-scan]").value;
        tell();
        return;
      }
      if (answer.redirected) return location.assign(answer.url);
      return result(false, page.querySelector("h1")?.textContent || `Not taken (${answer.status}). Scan again.`);
    } catch (e) {
      if (!(e instanceof NoSignal)) throw e;
    }
  }
  document.querySelector("#result").replaceChildren();
  await showAway(tag);
  box.value = "";
  const s = rules.now(sheet ?? { slabs: [], scales: [] }, await store.steps()).slabs.get(tag);
  if (s) say(`${tag}: ${s.state}`, s.state !== "on hold");
}

// Doing a step.
let n = 0;

async function press(event) {
  const form = event.target;
  const step = /\/staff\/bench\/([a-z]+)$/.exec(form.action)?.[1];
  if (!step || form === scanForm) return;
  event.preventDefault();
  // A slab is shown a moment before its scan is done with: a press counts all the same.
  await scanning?.catch(() => {}); // it complains itself
  if (busy || !form.isConnected) return;
  busy = true;
  const fields = Object.fromEntries([...new FormData(form, event.submitter)].map(([k, v]) => [k, String(v)]));
  const st = { key: store.random(), step, tag: (fields.tag ?? "").toUpperCase(), fields, done: iso(now()), n: n++, by: sheet?.by ?? "", live: true };
  clear(form);
  try {
    await store.put(st);
    let a = signal ? (await send()).get(st.key) : undefined;
    if (!a && signal && !sending) a = (await send()).get(st.key); // another round was under way
    if (a?.counted) return await counted(st, form);
    if (a?.signIn) {
      await rest(st);
      return result(false, "Sign in again: what was done waits on this device until then.");
    }
    if (a && !a.later) {
      await store.drop(st.key);
      mark(form, a.errors);
      return result(false, "Stop. " + a.text);
    }
    // It could not be sent: the device's own limits, then it waits.
    const others = (await store.steps()).filter((x) => x.key !== st.key);
    if (!sheet) {
      await store.drop(st.key);
      return result(false, "No signal: not sent, and nothing is kept on this device. Try again when it is back.");
    }
    const no = rules.judge(rules.now(sheet, others), st);
    if (no) {
      await store.drop(st.key);
      if (no.field) mark(form, [{ field: no.field, detail: no.text }]);
      return result(false, no.text);
    }
    if (["correct", "swap", "pick", "giveup"].includes(step)) {
      await store.drop(st.key);
      return result(false, "No signal: this one needs the shop's answer at once. Try again when it is back.");
    }
    await rest(st);
    if (st.tag) await showAway(st.tag);
    else document.querySelector("#slab").replaceChildren();
    result(true, `${name(st)}. It waits for signal.`);
  } finally {
    busy = false;
    await show();
    const bad = document.querySelector("#slab .bad input");
    if (bad) bad.focus();
    else ready();
  }
}

// rest leaves a step to wait: from now on its answer is shown in the list.
async function rest(st) {
  const kept = await store.step(st.key);
  await store.put({ ...(kept ?? st), live: false });
}

async function counted(st, form) {
  const q = new URLSearchParams();
  if (st.tag) q.set("tag", st.tag);
  if (st.tag && st.step !== "scale") q.set("done", "1");
  if (st.step === "swap") q.set("with", st.fields.other);
  fetchSheet().catch(() => {});
  try {
    const answer = await ask("/staff/bench?" + q, { headers: { Accept: "text/html" } });
    swap(await pageOf(answer));
    history.replaceState(null, "", "/staff/bench" + (st.tag ? "?tag=" + encodeURIComponent(st.tag) : ""));
    if (st.step === "scale") result(true, `${st.fields.scale} shows ${st.fields.shown} g: it may weigh curing salt today.`);
    else tell();
  } catch {
    form.remove();
    result(true, `${name(st)}: counted.`);
  }
}

function clear(form) {
  for (const e of form.querySelectorAll(".error")) e.remove();
  for (const b of form.querySelectorAll(".bad")) b.classList.remove("bad");
  for (const i of form.querySelectorAll("[aria-invalid]")) i.removeAttribute("aria-invalid");
}

// mark says beside a box what is wrong with it; what was typed stays.
function mark(form, errors) {
  for (const { field, detail } of errors ?? []) {
    const called = field.replace(/^body\./, "");
    const input = [...form.elements].find((e) => e.name && (e.name === called || names[e.name] === called || (called === "with" && e.name === "other")));
    const holder = input?.closest(".field");
    if (!holder || holder.classList.contains("bad")) continue;
    holder.classList.add("bad");
    input.setAttribute("aria-invalid", "true");
    const p = document.createElement("p");
    p.className = "error";
    p.id = input.id + "-wrong";
    p.textContent = detail;
    input.setAttribute("aria-describedby", p.id);
    (input.closest(".with-unit") ?? holder.querySelector(".choice") ?? input).before(p);
  }
}

// Coming back: what waits is sent by the shop's clock and under its own person's name.
let returning;
const comeBack = () =>
  (returning ??= (async () => {
    const waiting = (await store.steps()).filter((st) => !st.answer);
    if (busy || (!waiting.length && signal && sheet)) return;
    try {
      const was = signal;
      if (!(await fetchSheet())) return;
      for (const st of waiting) if (st.live) await rest(st); // its page is gone: the list tells
      const answers = [...(await send()).values()];
      if (was) return;
      await fetchSheet();
      const counted = answers.filter((a) => a.counted).length;
      if (awayTag) {
        swap(await pageOf(await ask("/staff/bench?tag=" + encodeURIComponent(awayTag), { headers: { Accept: "text/html" } })));
        awayTag = "";
      }
      result(counted === answers.length, `The signal is back. ${answers.length ? `${counted} of ${plural(answers.length, "step", "steps")} counted.` : ""}`);
    } catch (e) {
      if (!(e instanceof NoSignal)) throw e;
    } finally {
      await show();
    }
  })().finally(() => (returning = undefined)));

async function signOut(event) {
  if (!event.target.matches('form[action="/logout"]')) return;
  event.preventDefault();
  const waiting = (await store.steps()).filter((st) => !st.answer).length;
  if (waiting && !confirm(`${plural(waiting, "step waits", "steps wait")} on this device. They stay here until you sign in on it again. Sign out all the same?`)) return;
  await store.forget();
  event.target.submit();
}

async function start() {
  [sheet, device] = [await store.sheet(), await store.device()];
  if (navigator.serviceWorker) {
    await navigator.serviceWorker.register("/staff/bench-worker.js", { scope: "/staff/bench" }).catch(() => {});
    // Only a worker that is there already can keep the page it is asked for.
    if (signal && !navigator.serviceWorker.controller) await new Promise((go) => (navigator.serviceWorker.addEventListener("controllerchange", go, { once: true }), setTimeout(go, 5000)));
  }
  try {
    const answer = await fetch("/staff/bench/away");
    if (answer.ok && !answer.redirected) forms = await pageOf(answer);
  } catch {
    // never opened with signal: only what is on the page
  }
  try {
    await fetchSheet();
  } catch {
    // the kept one serves
  }
  await comeBack();
  await show();
  const tag = new URLSearchParams(location.search).get("tag");
  if (!signal && document.body.classList.contains("away") && tag) await showAway(tag.toUpperCase());
  main.dataset.bench = signal ? "ready" : "away"; // for whoever waits for it
}

scanForm.addEventListener("submit", scan);
document.addEventListener("submit", press);
document.addEventListener("submit", signOut);
document.addEventListener("click", (e) => {
  if (!e.target.closest("a, button, input, select, textarea, label, summary")) ready();
});
window.addEventListener("focus", () => document.activeElement === document.body && ready());
window.addEventListener("online", comeBack);
setInterval(comeBack, 15000);
ready();
tell();
start();
