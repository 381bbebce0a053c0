package carcass

import (
	"fmt"

	"flitchbook/planner/unit"
)

// YieldRow is one row of a printed yield table: a whole and the parts it gives.
type YieldRow struct {
	Whole unit.Weight
	Parts []Cut
}

// RowFault is what is wrong with a row of a table, or what to look at again.
type RowFault struct {
	Row  int    // from 0
	Part string // "" for the row as a whole
	Stop bool   // the table may not be taken over; else a person may say it is right
	Text string
}

// Neighbour is how far a part's share may stand from the row beside it, and Apart how
// far from all others when those agree among themselves to a quarter of that.
const (
	Neighbour = 2 * unit.Percent
	Apart     = unit.Percent
)

// CheckRows holds a table of yields against itself before it is taken over:
//
//   - parts of one whole may weigh at most half a per cent more than it (Tolerance);
//   - a part's share stands within two points of the row before;
//   - where all other rows agree, one that stands a point apart is a likely misprint.
//
// alternatives says that the parts of a row are different ways of cutting the same
// meat (bone-in, boneless): then each is held against the whole by itself. The rules
// are the house's own; the one misprint known to the shop (48 % of 50 lb printed as
// 24.8 lb) stands 1.6 points from its neighbour, so the second rule alone misses it.
func CheckRows(rows []YieldRow, alternatives bool) []RowFault {
	var f []RowFault
	for i, r := range rows {
		f = append(f, r.balance(i, alternatives)...)
	}
	for _, part := range partNames(rows) {
		f = append(f, neighbours(rows, part)...)
	}
	return f
}

func (r YieldRow) balance(i int, alternatives bool) []RowFault {
	if r.Whole <= 0 {
		return []RowFault{{Row: i, Stop: true, Text: "the whole weighs nothing"}}
	}
	var f []RowFault
	var sum unit.Weight
	most := r.Whole + r.Whole.Share(Tolerance)
	for _, p := range r.Parts {
		if p.Weight < 0 || p.Weight > most {
			f = append(f, RowFault{i, p.Name, true, fmt.Sprintf("%s weighs %s of a whole of %s", p.Name, p.Weight.LB(), r.Whole.LB())})
		}
		sum += p.Weight
	}
	if !alternatives && len(f) == 0 && sum > most {
		f = append(f, RowFault{i, "", true, fmt.Sprintf("the parts weigh %s, the whole only %s", sum.LB(), r.Whole.LB())})
	}
	return f
}

func partNames(rows []YieldRow) []string {
	var names []string
	seen := map[string]bool{}
	for _, r := range rows {
		for _, p := range r.Parts {
			if !seen[p.Name] {
				seen[p.Name] = true
				names = append(names, p.Name)
			}
		}
	}
	return names
}

type shareAt struct {
	row   int
	share unit.Ratio
}

func neighbours(rows []YieldRow, part string) []RowFault {
	var at []shareAt
	for i, r := range rows {
		for _, p := range r.Parts {
			if p.Name == part && r.Whole > 0 {
				at = append(at, shareAt{i, p.Weight.RatioOf(r.Whole)})
			}
		}
	}
	var f []RowFault
	for i, a := range at {
		if i > 0 {
			if b := at[i-1]; distance(a.share, b.share) > Neighbour {
				f = append(f, RowFault{a.row, part, false, fmt.Sprintf("%s is %s of the whole, the row before says %s", part, a.share.Pct(1), b.share.Pct(1))})
				continue
			}
		}
		if lo, hi, ok := others(at, i); ok && hi-lo <= Apart/4 && (a.share < lo-Apart || a.share > hi+Apart) {
			f = append(f, RowFault{a.row, part, false, fmt.Sprintf("%s is %s of the whole, every other row says %s to %s: a misprint?", part, a.share.Pct(1), lo.Pct(1), hi.Pct(1))})
		}
	}
	return f
}

// others is the span of all shares but the ith; it needs three of them to say anything.
func others(at []shareAt, i int) (lo, hi unit.Ratio, ok bool) {
	lo, hi = unit.One, 0
	for j, a := range at {
		if j != i {
			lo, hi = min(lo, a.share), max(hi, a.share)
		}
	}
	return lo, hi, len(at) > 3
}

func distance(a, b unit.Ratio) unit.Ratio { return max(a-b, b-a) }
