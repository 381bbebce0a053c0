package demand

import (
	"fmt"
	"slices"
)

// PaceClasses is from how many classes of a kind, the newest, the pace of booking is learned: what
// sold years ago says little, and need not be read for ever. A house choice.
const PaceClasses = 60

// Sale is seats taken of a class so many days before it; letting go counts below zero.
type Sale struct {
	Before int
	Seats  int
}

// Run is how one class filled.
type Run struct {
	Code  string
	Seats int // it had
	Sales []Sale
}

// OnHand is how many seats were taken so many days before, that day included.
func (r Run) OnHand(before int) int {
	n := 0
	for _, s := range r.Sales {
		if s.Before >= before {
			n += s.Seats
		}
	}
	return n
}

// Final is how many seats were taken in the end.
func (r Run) Final() int { return r.OnHand(-1 << 30) }

// PacePoint is where classes of a kind stood so many days before.
type PacePoint struct {
	Before    int
	Mean      float64 // seats on hand
	Low, High int     // fewest and most of them
	Share     float64 // of all seats taken in the end
}

// PaceOf is the booking pace of a kind of class: what its earlier classes had on hand
// at each of the marks, farthest day first. Share is the share of sums, so a class that
// sold nothing in the end does not spoil it. No runs give no points.
func PaceOf(runs []Run, marks []int) []PacePoint {
	if len(runs) == 0 {
		return nil
	}
	marks = slices.Clone(marks)
	slices.SortFunc(marks, func(a, b int) int { return b - a })
	marks = slices.Compact(marks)
	final := 0
	for _, r := range runs {
		final += r.Final()
	}
	var points []PacePoint
	for _, m := range marks {
		p := PacePoint{Before: m, Low: runs[0].OnHand(m)}
		sum := 0
		for _, r := range runs {
			n := r.OnHand(m)
			sum += n
			p.Low, p.High = min(p.Low, n), max(p.High, n)
		}
		p.Mean = float64(sum) / float64(len(runs))
		if final > 0 {
			p.Share = float64(sum) / float64(final)
		}
		points = append(points, p)
	}
	return points
}

// PastAt is the history a pickup forecast needs: each run seen so many days before.
func PastAt(runs []Run, before int) []Past {
	past := make([]Past, len(runs))
	for i, r := range runs {
		past[i] = Past{OnHand: r.OnHand(before), Final: r.Final(), Seats: r.Seats}
	}
	return past
}

// Beside says how a class stands against the pace of its kind: "3 on hand 25 days
// before; earlier ones had 4.7 (3 to 6)".
func Beside(runs []Run, before, onHand int) string {
	points := PaceOf(runs, []int{before})
	if points == nil {
		return fmt.Sprintf("%d on hand; no earlier class to go by", onHand)
	}
	p := points[0]
	return fmt.Sprintf("%d on hand %s before; %d earlier ones had %.1f (%d to %d)", onHand, count(before, "day"), len(runs), p.Mean, p.Low, p.High)
}
