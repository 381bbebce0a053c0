package season

import (
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// Check counts a verdict again by other means, slab by slab and day by day, and walks
// the seats and weeks one by one instead of searching. It returns an error that names
// the first thing that is not as the verdict says.
func (v Verdict) Check(r Rules, d Diary, add Sitting) error {
	was := r.recount(d, d.Open)
	fits := func(s Sitting) bool {
		if d.Closed.Has(s.Day) {
			return false
		}
		if s.Plain {
			if _, none := r.unfed(d, s); none {
				return false
			}
		}
		for what, n := range r.recount(d, append(slices.Clone(d.Open), s)) {
			if n > was[what] {
				return false
			}
		}
		return true
	}
	if ok := fits(add); ok != v.OK {
		return fmt.Errorf("publishing %s: the verdict says %v, counted again %v", add.Code, v.OK, ok)
	}
	if v.OK {
		return nil
	}
	most := 0
	for n := 1; n < add.Seats; n++ {
		s := add
		if s.Seats = n; !fits(s) {
			break
		}
		most = n
	}
	if most != v.MostSeats {
		return fmt.Errorf("publishing %s: the verdict lets %d seats fit, counted again %d", add.Code, v.MostSeats, most)
	}
	s := add
	for s.Day = add.Day + 7; s.Day <= add.Day+52*7; s.Day += 7 {
		if fits(s) {
			break
		}
	}
	if s.Day > add.Day+52*7 {
		s.Day = 0
	}
	if s.Day != v.Later {
		return fmt.Errorf("publishing %s: the verdict says %s fits, counted again %s", add.Code, v.Later, s.Day)
	}
	return nil
}

// A ledger says how far each thing is over what there is; only what is over stands in
// it.
type ledger map[string]int

func (l ledger) over(n, most int, format string, args ...any) {
	if n > most {
		l[fmt.Sprintf(format, args...)] = n - most
	}
}

// One slab of the recount.
type oneSlab struct {
	class           int
	first, last     unit.Day // in the bag: sealed, at the latest unbagged
	earliest, unbag unit.Day // planned
	low, hung       bool
	chain           bool
}

// recount fills rack and hooks slab by slab, and the tables minute by minute.
func (r Rules) recount(d Diary, classes []Sitting) ledger {
	l := ledger{}
	classes = slices.Clone(classes)
	slices.SortStableFunc(classes, func(a, b Sitting) int {
		if a.Day != b.Day {
			return int(a.Day - b.Day)
		}
		if a.Code < b.Code {
			return -1
		}
		return 1
	})
	var slabs []oneSlab
	for i, c := range classes {
		ready, err := r.ReadyAbout(c.Day, c.Cold, d.Closed)
		for n := range c.Full() {
			s := oneSlab{class: i, first: c.Day, last: c.Day + unit.Day(r.MaxCure), low: n < c.Allergen, chain: err == nil}
			s.earliest, s.unbag = ready.Earliest, ready.Unbag
			if err != nil {
				s.unbag = s.last
			}
			slabs = append(slabs, s)
		}
		l.over(c.Full()*btoi(err != nil), 0, "no chain for %s", c.Code)
	}
	rack := map[unit.Day]int{}
	for _, s := range slabs {
		for day := s.first; day <= s.unbag; day++ {
			rack[day]++
		}
	}
	for day, n := range rack {
		l.over(n, r.Places, "rack on %s", day)
	}
	r.rehang(d, classes, slabs, l)
	r.reseat(classes, l)
	return l
}

// rehang takes the slabs in their order to each smoke day.
func (r Rules) rehang(d Diary, classes []Sitting, slabs []oneSlab, l ledger) {
	if len(slabs) == 0 {
		return
	}
	lying := map[unit.Day]int{} // in the resting room
	from, to := slabs[0].first, slabs[len(slabs)-1].last
	for _, s := range slabs {
		from, to = min(from, s.first), max(to, s.last)
	}
	for day := from; day <= to; day++ {
		if !slices.Contains(r.UnbagDays, day.Weekday()) || r.broken(day, d.Closed) != "" {
			continue
		}
		smoke := day + 1
		own := r.OwnOn(smoke)
		free := r.Hooks - own
		if r.Resting > 0 {
			free = min(free, r.Resting-own-lying[smoke])
		}
		row := r.BottomRow
		lying[smoke], lying[smoke+1] = lying[smoke]+own, lying[smoke+1]+own
		for i := range slabs {
			s := &slabs[i]
			if free <= 0 {
				break
			}
			if s.hung || !s.chain || day < s.earliest || day > s.last || s.low && row <= 0 {
				continue
			}
			s.hung = true
			free--
			if s.low {
				row--
			}
			lying[smoke]++
			lying[smoke+1]++
		}
	}
	for i, c := range classes {
		n := 0
		for _, s := range slabs {
			n += btoi(s.class == i && s.chain && !s.hung)
		}
		l.over(n, 0, "no hook for %s", c.Code)
	}
}

// reseat looks at every minute a class begins.
func (r Rules) reseat(classes []Sitting, l ledger) {
	for i, c := range classes {
		people, teach := 0, 0
		for j, o := range classes {
			here := j == i
			for m := o.From; m < o.To && !here; m++ {
				here = o.Day == c.Day && m == c.From && c.To > c.From
			}
			if here {
				people += o.Seats + o.Watching
				teach++
			}
		}
		if r.TableSeats > 0 {
			l.over(people, r.TableSeats, "tables when %s begins", c.Code)
		}
		if r.Teachers > 0 {
			l.over(teach, r.Teachers, "teachers when %s begins", c.Code)
		}
		if r.SealBags > 0 {
			bags := 0
			for at := r.SealCycle; at <= r.SealWithin; at += r.SealCycle {
				bags += r.SealBags
			}
			l.over(c.Full(), bags, "sealer of %s", c.Code)
		}
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}
