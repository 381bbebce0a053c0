// Answers a plain form while it is being moved: the same address is asked, and the
// marked part of the page that comes back takes the place of the one shown. Nothing is
// reckoned here; without scripts the button does the same.
//
//   <form method="get" data-live="answer"> … <input type="range" id="w"> <output data-shows="w">
//   <section id="answer" aria-live="polite">
const pause = 200;

for (const form of document.querySelectorAll("form[data-live]")) {
  let timer, asked;
  const ask = async () => {
    asked?.abort();
    const mine = (asked = new AbortController());
    const url = `${form.action}?${new URLSearchParams(new FormData(form))}`;
    try {
      const answer = await fetch(url, { signal: mine.signal, headers: { Accept: "text/html" } });
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.getElementById(form.dataset.live);
      const old = document.getElementById(form.dataset.live);
      if (fresh && old) {
        old.replaceChildren(...fresh.childNodes);
        history.replaceState(null, "", url);
      }
    } catch (e) {
      if (e.name !== "AbortError") console.warn(e); // no signal: the button still works
    }
  };
  form.addEventListener("input", (e) => {
    for (const out of form.querySelectorAll("[data-shows]")) {
      if (out.dataset.shows === e.target.id) out.textContent = e.target.value;
    }
    clearTimeout(timer);
    timer = setTimeout(ask, pause);
  });
}
