// What the bench keeps on the device: the steps that wait to be sent, and the bench
// sheet of the day. A step is safe on the disk before anybody is told that it is.
let opened;

const open = () =>
  (opened ??= new Promise((done, fail) => {
    const ask = indexedDB.open("flitchbook-bench", 1);
    ask.onupgradeneeded = () => {
      ask.result.createObjectStore("steps", { keyPath: "key" });
      ask.result.createObjectStore("kept");
    };
    ask.onsuccess = () => done(ask.result);
    ask.onerror = () => fail(ask.error);
  }));

async function run(store, mode, f) {
  const db = await open();
  return new Promise((done, fail) => {
    const t = db.transaction(store, mode, { durability: "strict" });
    const ask = f(t.objectStore(store));
    t.oncomplete = () => done(ask?.result);
    t.onabort = t.onerror = () => fail(t.error);
  });
}

export const random = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("");

export const put = (step) => run("steps", "readwrite", (s) => s.put(step));
export const drop = (key) => run("steps", "readwrite", (s) => s.delete(key));
export const step = (key) => run("steps", "readonly", (s) => s.get(key));

// steps are all that were not dismissed, in the order they were done.
export async function steps() {
  const all = await run("steps", "readonly", (s) => s.getAll());
  return all.sort((a, b) => (a.done < b.done ? -1 : a.done > b.done ? 1 : a.n - b.n));
}

export const sheet = () => run("kept", "readonly", (s) => s.get("sheet"));
export const keepSheet = (v) => run("kept", "readwrite", (s) => s.put(v, "sheet"));

// device names this device in the records.
export async function device() {
  let name = await run("kept", "readonly", (s) => s.get("device"));
  if (!name) await run("kept", "readwrite", (s) => s.put((name = "bench " + random().slice(0, 8)), "device"));
  return name;
}

// forget deletes what was fetched; steps that wait stay, they are nobody's secret.
export async function forget() {
  await run("kept", "readwrite", (s) => s.delete("sheet"));
  if (!globalThis.caches) return;
  for (const name of await caches.keys()) if (name.startsWith("bench-")) await (await caches.open(name)).delete("/staff/bench/away");
}
