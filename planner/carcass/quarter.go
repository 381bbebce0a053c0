package carcass

import "flitchbook/planner/unit"

// HindShare is the hindquarter's usual share of a beef side: 48 %, of 47 to 49 ("Types
// and Market Classes of Live Stock", an early textbook). A scale replaces it.
const HindShare = 48 * unit.Percent

// Quarters parts a beef side into hind and fore; together they are the side exactly.
func Quarters(side unit.Weight) (hind, fore unit.Weight) {
	hind = side.Share(HindShare)
	return hind, side - hind
}
