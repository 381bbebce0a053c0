// Answers for the bench while there is no signal. It keeps the empty bench page and the
// styles and scripts it needs, and no page that names a customer.
/* global release, files */
const kept = "bench-" + release;
const away = "/staff/bench/away";

self.addEventListener("install", (e) => {
  e.waitUntil(caches.open(kept).then((c) => c.addAll(files)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (e) => {
  e.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter((n) => n.startsWith("bench-") && n !== kept).map((n) => caches.delete(n))))
      .then(() => self.clients.claim()),
  );
});

const patience = 5000; // a signal that weak is none

async function network(request) {
  const answer = await Promise.race([fetch(request), new Promise((_, give) => setTimeout(give, patience, new Error("no answer")))]);
  if (answer.status >= 502 && answer.status <= 504) throw new Error("nobody behind the door");
  return answer;
}

async function emptyBench() {
  return (await caches.match(away)) ?? Response.error();
}

self.addEventListener("fetch", (e) => {
  const { request } = e;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (url.pathname === away) {
    e.respondWith(
      network(request).then(async (answer) => {
        if (answer.ok && !answer.redirected) {
          const copy = answer.clone();
          await (await caches.open(kept)).put(away, copy);
        }
        return answer;
      }, emptyBench),
    );
  } else if (request.mode === "navigate" && url.pathname === "/staff/bench") {
    e.respondWith(network(request).catch(emptyBench));
  } else if (files.includes(url.pathname)) {
    e.respondWith(caches.match(request, { ignoreVary: true }).then((hit) => hit ?? fetch(request)));
  }
});
