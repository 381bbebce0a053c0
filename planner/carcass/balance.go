package carcass

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Tolerance is how far weighed parts may stand from the whole before somebody looks
// again: half a per cent of the whole. A house rule; block, saw and damp account for
// about as much.
const Tolerance = unit.Percent / 2

// Balance compares parts with the whole they came from.
type Balance struct {
	Whole, Parts unit.Weight
	Diff         unit.Weight // parts − whole
	OK           bool        // within Tolerance of the whole
	Note         string      // what to tell whoever weighed; empty when they agree exactly
}

// CheckBalance adds up parts and compares. A difference within Tolerance is worth a
// note, a larger one is not to be saved.
func CheckBalance(whole unit.Weight, parts ...unit.Weight) Balance {
	b := Balance{Whole: whole}
	for _, p := range parts {
		b.Parts += p
	}
	b.Diff = b.Parts - whole
	size := max(b.Diff, -b.Diff)
	b.OK = size <= whole.Share(Tolerance)
	word := "less"
	if b.Diff > 0 {
		word = "more"
	}
	switch {
	case b.Diff == 0:
	case b.OK:
		b.Note = fmt.Sprintf("the parts weigh %s %s than the whole, within half a per cent", size.LB(), word)
	case b.Diff > 0:
		b.Note = fmt.Sprintf("the parts weigh %s, the whole only %s: weigh again", b.Parts.LB(), whole.LB())
	default:
		b.Note = fmt.Sprintf("%s of %s is not accounted for: weigh again, or name what is missing", size.LB(), whole.LB())
	}
	return b
}
