package cure

import (
	"fmt"
	"math/big"

	"flitchbook/planner/unit"
)

// What the shop starts with; its settings may say else (house rules).
const (
	SeatApart    = unit.Pound / 10   // a slab may weigh this much else at the seat than at cutting
	FinishedLow  = 78 * unit.Percent // finished weight, share of green
	FinishedHigh = 95 * unit.Percent //
)

// CheckSeatWeight stops when a slab weighs more than apart else at the seat than at
// cutting: it is the wrong slab or the wrong scale.
func CheckSeatWeight(cut, seat, apart unit.Weight) Verdict {
	if cut <= 0 || seat <= 0 {
		return block("a slab cannot weigh %s at cutting and %s at the seat", cut.LB(), seat.LB())
	}
	off := max(cut-seat, seat-cut)
	if off > apart {
		shown := off.LB()
		if shown == apart.LB() {
			shown = off.String() // so that it does not read as what is allowed
		}
		return block("stop: %s at the seat and %s at cutting are %s apart, more than %s: wrong slab or wrong scale",
			seat.LB(), cut.LB(), shown, apart.LB())
	}
	return Verdict{Answer: OK, Reasons: []string{fmt.Sprintf("%s at the seat, %s at cutting", seat.LB(), cut.LB())}}
}

// CheckCup stops when the cup made for one ticket is brought to another ticket's
// slab, and says what each slab would get from the other's cup. Cups belong to
// slabs by tag, whatever their weights.
func CheckCup(cup, at Ticket) Verdict {
	if cup.Slab.Tag != "" && cup.Slab.Tag == at.Slab.Tag {
		return Verdict{Answer: OK, PPM: at.Verdict.PPM, Reasons: []string{
			fmt.Sprintf("the cup is %s's own, %s", at.Slab.Tag, at.Verdict.PPM.Show())}}
	}
	here := at.judge(cup.Parts, 0)
	there := cup.judge(at.Parts, 0)
	return Verdict{Answer: Block, PPM: here.PPM, Reasons: []string{fmt.Sprintf(
		"stop: this cup (%s of curing salt) is for %s, not for %s; swapped, %s would get %s and %s %s (allowed %s to %s)",
		cup.CuringSalt.G(1), cup.Slab.describe(), at.Slab.describe(),
		at.Slab.Green.LB(), here.PPM.Show(), cup.Slab.Green.LB(), there.PPM.Show(), at.Recipe.Limit.Floor, at.Recipe.Limit.Max)}}
}

// CheckFinished stops when finished bacon weighs less than the share low of its green
// weight or more than high: weigh again, and suspect a swapped tag.
func CheckFinished(green, finished unit.Weight, low, high unit.Ratio) Verdict {
	if green <= 0 || finished <= 0 {
		return block("bacon cannot weigh %s from %s of belly", finished.LB(), green.LB())
	}
	share := new(big.Rat).Quo(weight(finished), weight(green))
	under, over := share.Cmp(ratio(low)) < 0, share.Cmp(ratio(high)) > 0
	percent := mul(share, big.NewRat(100, 1))
	if !under && !over {
		return Verdict{Answer: OK, Reasons: []string{fmt.Sprintf("%s is %s %% of its green weight of %s",
			finished.LB(), percent.FloatString(1), green.LB())}}
	}
	text := percent.FloatString(1)
	if text+" %" == low.Pct(1) || text+" %" == high.Pct(1) {
		text = percent.FloatString(6) // so that it does not read as what is allowed
	}
	return block("stop: %s is %s %% of its green weight of %s, outside %s to %s: weigh again, and suspect a swapped tag",
		finished.LB(), text, green.LB(), low, high)
}
