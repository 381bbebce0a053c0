// Shows what a form will cost while it is being filled. The shop reckons again
// when the form is sent; this is only a look ahead.
//
//   <form data-live-total> … <input data-cents="9500"> … <output data-total>$190.00</output>
//
// A number box or a select counts its value times data-cents; a tick box or radio
// button counts data-cents when chosen; an option may carry its own data-cents.
const cents = (el) => {
  if (el.disabled) return 0;
  if (el.type === "checkbox" || el.type === "radio") return el.checked ? Number(el.dataset.cents) : 0;
  if (el.selectedOptions?.[0]?.dataset.cents) return Number(el.selectedOptions[0].dataset.cents);
  return /^\s*\d{1,4}\s*$/.test(el.value) ? Number(el.value) * Number(el.dataset.cents || 0) : 0;
};

const money = (c) => `$${Math.floor(c / 100)}.${String(c % 100).padStart(2, "0")}`;

for (const form of document.querySelectorAll("form[data-live-total]")) {
  const out = form.querySelector("[data-total]");
  const show = () => {
    let sum = 0;
    for (const el of form.elements) {
      if (el.dataset.cents || el.selectedOptions?.[0]?.dataset.cents) sum += cents(el);
    }
    const text = money(sum);
    if (out.textContent !== text) out.textContent = text;
  };
  form.addEventListener("input", show);
  show();
}
