// Package label says what may and must stand on a packet of home-cured bacon: what it may
// be called, its ingredients in order, its allergens, its dates, and whether it may be
// packed and sold that way at all.
//
// # Method
//
// Ingredients stand in order of the weight that went in, heaviest first. Curing salt is
// not an ingredient of its own: its salt joins the salt, its nitrite stands by name. What
// is itself made of several things (a blend, a sauce) stands once, by its whole weight,
// with its parts in brackets in the order its maker gives. Garlic and onion stand by name.
//
// Allergens are found by the words of the statement, whole words only, and join those the
// shop has written down for the jar; a nut, fish or shellfish must be named by kind.
//
// Dates count calendar days from packing, days in the freezer apart. The house's own
// number of days never runs past the rule of the place.
//
// None of it is legal advice: local code, the inspector and the shop's written plan
// decide. The fixed wording of safe-handling instructions is not in here: a shop copies
// it from the regulation in force.
//
// # Sources
//
//   - Ingredient order, compound ingredients: Utah Department of Agriculture label page.
//     [read] Garlic and onion by name: 9 CFR 317.2(f). [memory]
//   - Main panel: 9 CFR 317.2(c). [read] Safe handling, type of 1/16 in at the least:
//     9 CFR 317.2(l); 59 FR, 28 Mar 1994. [read second-hand]
//   - The name Bacon: 9 CFR 319.107. [read]
//   - Nine allergens: FALCPA 2004 and FASTER Act 2021. [read]
//   - Reduced-oxygen packing: Food Code 3-502.11 and 3-502.12 as WAC 246-215-03535 and
//     Wisconsin ATCP 75 appendix adopt it; 14 days: Nevada 446.184, Minnesota 4626.0420
//     (2014 text). [read]
//   - Custom-exempt packs: 9 CFR 317.16; Florida EDIS AN204. [read]
//   - Sales to restaurants: 9 CFR 303.1(d); FSIS "Knowing the Exemptions Regarding
//     Inspection"; yearly limit 80 FR 15549 (2015), a trade notice (2024), 90 FR 11699
//     (2025). [read, 2024 second-hand]
package label
