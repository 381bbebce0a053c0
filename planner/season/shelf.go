package season

import (
	"cmp"
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// Tight lists dates that ask more of shelf and freezer than they hold. The counts rest
// on a guess, how long a packet waits to be fetched, so they are said and refuse
// nothing. Only the first day of a run of such days is listed.
func (r Rules) Tight(sittings []Sitting, slabs Slabs, closed Closed) []Break {
	var out []Break
	list := func(what, text string, places int, days map[unit.Day]int) {
		if places == 0 {
			return
		}
		var over []unit.Day
		for d, n := range days {
			if n > places {
				over = append(over, d)
			}
		}
		slices.Sort(over)
		for i, d := range over {
			if i > 0 && over[i-1] == d-1 && days[over[i-1]] >= days[d] {
				continue
			}
			out = append(out, Break{d, what, days[d], places, fmt.Sprintf("%s: %s %d of %d, %s", d.Show(), what, days[d], places, text)})
		}
	}
	shelf, frozen := r.keep(sittings, slabs, closed)
	list("shelf", fmt.Sprintf("if a packet waits %s", days(r.ShelfDays)), r.Shelf, shelf)
	list("freezer", fmt.Sprintf("if %s of the packets are not fetched", r.LeftShare.Pct(0)), r.Freezer, frozen)
	slices.SortStableFunc(out, func(a, b Break) int { return cmp.Compare(a.Day, b.Day) })
	return out
}

// keep counts packets on the ready shelf and in the freezer, day by day. Demo slabs go
// to neither: they are the shop's, and hang last of their class.
func (r Rules) keep(sittings []Sitting, slabs Slabs, closed Closed) (shelf, frozen map[unit.Day]int) {
	guests := map[string]int{}
	for _, s := range sittings {
		guests[s.Code] = max(slabs(s)-s.Demo, 0)
	}
	shelf, frozen = map[unit.Day]int{}, map[unit.Day]int{}
	packed := map[unit.Day]int{}
	for _, l := range r.Loads(sittings, slabs, closed) {
		for _, p := range l.Parts {
			n := min(p.Low+p.Plain, guests[p.Code])
			guests[p.Code] -= n
			packed[l.Pack] += n
		}
	}
	left := map[unit.Day]int{}
	for pack, n := range packed {
		for d := pack; d < pack+unit.Day(r.ShelfDays); d++ {
			shelf[d] += n
		}
		for d := pack + unit.Day(r.FreezeDay); d < pack+unit.Day(r.FrozenDays); d++ {
			left[d] += n
		}
	}
	for d, n := range left {
		frozen[d] = int(unit.MulDiv(int64(n), int64(r.LeftShare), int64(unit.One), unit.Up))
	}
	return shelf, frozen
}
