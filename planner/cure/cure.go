// Package cure answers, for one slab of belly: how much salt, sugar and curing
// salt, what nitrite that puts in, whether it may be sealed, and how far salt has
// travelled.
//
// # Nitrite
//
// Ingoing nitrite is milligrams of sodium nitrite per kilogram of green meat:
// ppm = Σ mᵢ·fᵢ ÷ W × 10⁶, with fᵢ the nitrite share of each curing salt by its
// own lot, never a constant (FSIS Directive 7620.3, Processing Inspectors'
// Calculations Handbook, chapter 3, pp. 15 and 24). W is the green weight of the
// meat under the skin: skin takes up almost no cure, so a skin-on slab counts for
// 90 %, or less where its own skin was weighed and was more (same handbook).
// Every comparison with a limit is made on exact fractions; only what is shown is
// rounded. Limits are data (Limit) with their source, how it was read, and who in
// the shop approved them: local code, the inspector and the shop's written plan
// decide, not this package.
//
// # The house ticket
//
// NewTicket weighs out by the shop's recipe from the meat under the skin, rounds
// salt, sugar and spice to 1 g and curing salt to 0.1 g, halves up, and reckons
// the nitrite from the rounded grams. It makes no ticket outside the limit.
// CheckWeighOut then compares what was really weighed with the ticket and the
// limit, and CheckSeatWeight, CheckCup and CheckFinished guard the slab's identity.
// Ticket.Check repeats the decision by a second, separate reckoning, for use
// before a ticket is stored.
//
// # Other bases
//
// Mix reckons a recipe by total salt with the meat, the whole mix, or meat and
// water as its base; the salt inside the curing salt counts as salt.
//
// # Salt, model
//
// Penetration uses the two slab solutions of the diffusion equation in Crank, The
// Mathematics of Diffusion: a face that never weakens, and a finite dose all laid
// on at the start, which is what a sealed bag with a weighed cure is. It is about
// salt only. It says nothing about nitrite, and never that a slab is cured
// through. Floating point is used here and nowhere else in the package.
//
// Curing salt is poisonous beyond its dose: weigh it in grams on a checked scale,
// never by the spoon.
package cure
