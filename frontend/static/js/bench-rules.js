// The bench's limits without signal: the same numbers as the shop's, from the bench
// sheet, compared as whole nanograms. The shop decides again when a step arrives.
const units = { lb: 453592370000, g: 1e9, kg: 1e12, oz: 28349523125 };

// weight reads "4.60 lb" as nanograms; NaN when it is none.
export function weight(text, unit) {
  const m = /^\s*(\d+(?:\.\d+)?)\s*([a-z]*)\s*$/.exec(text ?? "");
  const one = units[m?.[2] || unit];
  return m && one ? Math.round(Number(m[1]) * one) : NaN;
}

const lb = (ng) => (ng / units.lb).toFixed(2) + " lb";
export const pounds = (text) => lb(weight(text));
export const grams = (text, places) => (weight(text) / units.g).toFixed(places) + " g";

const nitrite = (slab) => Number.parseFloat(slab.nitrite) / 100;
const ppm = (curing, slab) => ((curing * nitrite(slab) * 1e6) / weight(slab.ticket.basis)).toFixed(1) + " ppm";

export const day = (when, zone) => new Intl.DateTimeFormat("en-CA", { timeZone: zone, dateStyle: "short" }).format(new Date(when));
export const clock = (when, zone) => new Intl.DateTimeFormat("en-GB", { timeZone: zone, timeStyle: "short" }).format(new Date(when));
export const weekday = (when, zone) => new Intl.DateTimeFormat("en-US", { timeZone: zone, weekday: "short" }).format(new Date(when));

// Where each step starts and leads.
export const moves = {
  cut: ["wanted", "cut"],
  kit: ["cut", "kitted"],
  seal: ["kitted", "in cure"],
  rinse: ["in cure", "rinsed"],
  hang: ["rinsed", "in smoke"],
  out: ["in smoke", "resting"],
  pack: ["resting", "packed"],
  shelve: ["packed", "on the shelf"],
  freeze: ["on the shelf", "in the freezer"],
};

// now is the sheet with what was done on this device and is not known there yet.
export function now(sheet, steps) {
  const slabs = new Map(sheet.slabs.map((s) => [s.tag, { ...s }]));
  const scales = sheet.scales.map((s) => ({ ...s }));
  for (const st of steps) {
    if (st.answer) continue;
    if (st.step === "scale") {
      for (const sc of scales) if (sc.name === st.fields.scale) sc.checked = true;
      continue;
    }
    const s = slabs.get(st.tag);
    if (!s || s.state === "on hold") continue;
    if (st.step === "weigh") s.weighed = true;
    const to = moves[st.step]?.[1];
    if (to) s.state = to;
    if (st.step === "cut") Object.assign(s, { green: st.fields.weight + " lb", skin_on: st.fields.skin === "on" });
    if (st.step === "rinse") s.place = "";
  }
  return { ...sheet, slabs, scales };
}

const stop = (text, field) => ({ text, field });

// judge says why a step must stop, or nothing.
export function judge(bench, st) {
  const f = st.fields;
  const number = (name, unit, need) => {
    if (!f[name]?.trim() && !need) return null;
    const w = weight(f[name], unit);
    if (Number.isNaN(w)) throw stop(`"${f[name] ?? ""}" is not a weight, such as ${unit === "g" ? "44" : "4.60"}.`, name);
    return w;
  };
  try {
    if (st.step === "scale") {
      const w = number("shown", "g", true);
      if (w < 4.9 * units.g || w > 5.1 * units.g) return stop(`${f.scale} shows ${f.shown} g for the 5 g weight, outside 4.9 to 5.1 g. It may not weigh curing salt.`, "shown");
      return null;
    }
    const s = bench.slabs.get(st.tag);
    if (!s) return stop(`${st.tag} is not on this device's sheet.`);
    if (s.state === "on hold") return stop(`${s.tag} is on hold since ${weekday(s.held_since, bench.zone)} ${clock(s.held_since, bench.zone)}. Nothing moves until a named person decides.`);
    const from = moves[st.step]?.[0];
    if (from && s.state !== from) return stop(`${s.tag} is "${s.state}": that is not its next step.`);
    switch (st.step) {
      case "cut":
        if (!f.skin) return stop("Say whether the skin is on: the cure is reckoned on the meat under it.", "skin");
        number("weight", "lb", true);
        break;
      case "seat": {
        const off = Math.abs(number("weight", "lb", true) - weight(s.green));
        if (off > weight(bench.seat_apart)) return stop(`Stop: ${f.weight} lb at the seat and ${pounds(s.green)} at cutting are ${lb(off)} apart, more than ${pounds(bench.seat_apart)}: wrong slab or wrong scale.`, "weight");
        break;
      }
      case "weigh":
        return weighOut(bench, s, f, number);
      case "seal":
        if (s.ask) return stop(`${s.tag} has no spice yet: ask the guest and choose it first.`);
        if (!s.weighed) return stop(`${s.tag} has no passing weigh-out: weigh it and enter what the scale shows.`);
        break;
      case "rinse":
        number("drained", "lb", false);
        if (s.unbag_from && day(st.done, bench.zone) < s.unbag_from) return stop(`${s.tag} may leave its bag on ${s.unbag_from} at the earliest.`);
        if (s.unbag_by && day(st.done, bench.zone) > s.unbag_by && !f.reason?.trim()) return stop(`${s.tag} should have left its bag by ${s.unbag_by}. Say why it is later.`, "reason");
        break;
      case "out":
        if (!/^\d+(\.\d+)?\s*(F|C)?$/i.test(f.temp.trim())) return stop(`"${f.temp}" is not a temperature, such as 146.`, "temp");
        break;
      case "pack": {
        const w = number("weight", "lb", true);
        if (w < weight(s.finished_least) || w > weight(s.finished_most))
          return stop(`Stop: ${f.weight} lb from ${pounds(s.green)} green lies outside ${pounds(s.finished_least)} to ${pounds(s.finished_most)}: weigh again, and suspect a swapped tag.`, "weight");
      }
    }
    return null;
  } catch (e) {
    if (e.text) return e;
    throw e;
  }
}

function weighOut(bench, s, f, number) {
  if (!s.ticket) return stop(`No kit is on this device for ${s.tag}.`);
  const cup = f.cup?.trim().toUpperCase();
  if (cup && cup !== s.tag) {
    const o = bench.slabs.get(cup);
    if (!o?.ticket) return stop(`This cup bears ${cup}, the slab is ${s.tag}. Cups stay with their tags.`, "cup");
    return stop(`Stop: this cup is for ${cup}, not for ${s.tag}; swapped, ${pounds(s.green)} would get ${ppm(weight(o.ticket.curing_salt), s)} and ${pounds(o.green)} ${ppm(weight(s.ticket.curing_salt), o)} (allowed 120 to 200).`, "cup");
  }
  const spice = weight(s.ticket.spice) > 0 && !s.ask;
  if (spice) number("spice", "g", true);
  const again = s.weighed && !f.salt?.trim() && !f.sugar?.trim() && !f.cure?.trim();
  if (again) return null;
  number("salt", "g", true);
  number("sugar", "g", true);
  const m = /^(\d+)(\.(\d+))?( *g)?$/.exec(f.cure?.trim() ?? "");
  if (!m) return stop(`"${f.cure ?? ""}" is not a weight in grams, such as 4.7 or 5.0.`, "cure");
  if (m[3]?.length !== 1) return stop(`"${f.cure}" ${m[3] ? `has ${m[3].length} decimals: read curing salt to one` : "has no decimal: read curing salt to 0.1 g"}, such as 4.7 or 5.0.`, "cure");
  const scale = bench.scales.find((x) => x.name === f.scale);
  if (!scale?.fine) return stop("Choose the scale the curing salt was weighed on.", "scale");
  if (!scale.checked) return stop(`${scale.name} is not checked with the 5 g weight today: check it first.`, "scale");
  const w = weight(f.cure, "g");
  if (w < weight(s.least) || w > weight(s.most))
    return stop(`Stop: ${f.cure} g is not what ${s.tag} needs: ${grams(s.ticket.curing_salt, 1)}, from ${grams(s.least, 1)} to ${grams(s.most, 1)}. It would be ${ppm(w, s)} (allowed 120 to 200). Scrape it off and weigh again.`, "cure");
  return null;
}
