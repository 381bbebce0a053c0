// Says how long a hold still lasts. The words of the page ("held until 20:31") are
// the truth and stay; this adds the minutes. It counts from the seconds the page
// was made with, never from this machine's clock, which may be wrong.
//
//   <p>Held until <time datetime="…">20:31</time> <span data-left="1200"></span></p>
//
// Minutes are shown as they pass, but read aloud only at five, two and one, and at
// the end.
const aloud = document.createElement("p");
aloud.className = "sr";
aloud.setAttribute("aria-live", "polite");
document.body.append(aloud);

const words = (s) =>
  s <= 0 ? "the time is up" : s < 60 ? "less than a minute left" : `${Math.floor(s / 60)} min left`;

for (const el of document.querySelectorAll("[data-left]")) {
  const end = performance.now() + Number(el.dataset.left) * 1000;
  let said;
  const tick = () => {
    const left = Math.ceil((end - performance.now()) / 1000);
    const text = words(left);
    if (el.textContent !== `(${text})`) el.textContent = `(${text})`;
    el.classList.toggle("soon", left < 300);
    const mark = [0, 60, 120, 300].find((m) => left <= m);
    if (mark !== undefined && mark !== said) {
      said = mark;
      aloud.textContent = left <= 0 ? el.dataset.over || "The time is up." : `${text}.`;
    }
    if (left > 0) setTimeout(tick, 1000);
  };
  tick();
}
