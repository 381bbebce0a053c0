package season

import (
	"cmp"
	"fmt"
	"slices"
	"sort"
	"strings"

	"flitchbook/planner/unit"
)

// Diary is everything a new class must live with.
type Diary struct {
	Open   []Sitting // classes that stand, every one taken as full
	Closed Closed
	Plant  Plant    // its closures and the slots in use
	Today  unit.Day // 0 = kill days are not looked at
}

// Verdict is the answer to publishing a class or adding seats.
type Verdict struct {
	OK        bool
	First     Break    // the first broken date, when not OK
	Broken    []Break  // every date the class would break, First at their head
	MostSeats int      // the most seats that would fit on that day, 0 when none
	Later     unit.Day // the first same weekday later that fits the whole class; 0 = none within a year
	Text      string
	Notes     []Break // what it strains without breaking: shelf, freezer, the kill of bellies
}

// Publish checks a new class against the open ones, every one taken as full, without
// looking at kill days. See Judge.
func (r Rules) Publish(open []Sitting, add Sitting, closed Closed) Verdict {
	return r.Judge(Diary{Open: open, Closed: closed}, add)
}

// Judge checks a new class against a diary. Dates that are broken already and that the
// new class does not touch do not refuse it. A class whose meat no kill can bring is
// refused if the meat is the class, a half to take apart; a bacon class is only told,
// since bellies may come from elsewhere.
func (r Rules) Judge(d Diary, add Sitting) Verdict {
	before := r.standing(d)
	broken := r.breaking(d, before, add)
	v := Verdict{OK: len(broken) == 0, Broken: broken, Notes: r.notes(d, add)}
	if v.OK {
		v.MostSeats, v.Text = add.Seats, add.Day.Show()+": fits"
		return v
	}
	v.First = broken[0]
	// More seats never fit where fewer do not.
	v.MostSeats = sort.Search(max(add.Seats-1, 0), func(n int) bool {
		more := add
		more.Seats = n + 1
		return len(r.breaking(d, before, more)) > 0
	})
	for day := add.Day + 7; day <= add.Day+52*7; day += 7 {
		later := add
		later.Day = day
		if !d.Closed.Has(day) && len(r.breaking(d, before, later)) == 0 {
			v.Later = day
			break
		}
	}
	v.Text = v.First.Text + fmt.Sprintf("; at most %d seats fit", v.MostSeats)
	if v.MostSeats == 1 {
		v.Text = v.First.Text + "; at most 1 seat fits"
	}
	if v.Later != 0 {
		v.Text += fmt.Sprintf("; the whole class fits on %s", v.Later.Show())
	}
	return v
}

// standing is what is broken already, without the new class.
func (r Rules) standing(d Diary) map[Break]bool {
	before := map[Break]bool{}
	for _, b := range r.Breaks(d.Open, Sitting.Full, d.Closed) {
		before[b] = true
	}
	return before
}

// breaking lists the breaks that the added class causes or makes worse, earliest first.
func (r Rules) breaking(d Diary, before map[Break]bool, add Sitting) []Break {
	if b, shut := closedOn(add.Day, d.Closed); shut {
		return []Break{b}
	}
	var out []Break
	for _, b := range r.Breaks(append(slices.Clone(d.Open), add), Sitting.Full, d.Closed) {
		if !before[b] {
			out = append(out, b)
		}
	}
	if add.Plain {
		if b, none := r.unfed(d, add); none {
			out = append(out, b)
		}
	}
	slices.SortStableFunc(out, func(a, b Break) int { return cmp.Compare(a.Day, b.Day) })
	return out
}

// unfed says whether no kill can bring the meat of a class that has none yet.
func (r Rules) unfed(d Diary, s Sitting) (Break, bool) {
	if _, known := r.use(s.Use); !known || s.Fed || d.Today == 0 {
		return Break{}, false
	}
	c, err := r.Choose(Group{Calls: []Call{{s.Code, s.Use, s.Day}}, Animals: s.Animals}, d.Today, d.Plant, d.Closed)
	if err != nil || c.OK() {
		return Break{}, false
	}
	why := c.Advice
	if near, ok := nearest(c.All); ok {
		why = near.Kill.Show() + ": " + strings.Join(near.Reasons, "; ")
	}
	return Break{Day: s.Day, What: "kill", Text: fmt.Sprintf("%s: no kill brings the meat of %s; %s", s.Day.Show(), s.Code, why)}, true
}

// nearest is the kill day that is nearest to fitting: the fewest reasons against it, a
// closed floor counting as two, the later of equals.
func nearest(all []Candidate) (Candidate, bool) {
	against := func(c Candidate) int {
		n := len(c.Reasons)
		for _, why := range c.Reasons {
			if strings.HasPrefix(why, "closed ") {
				n++
			}
		}
		return n
	}
	if len(all) == 0 {
		return Candidate{}, false
	}
	return slices.MinFunc(all, func(a, b Candidate) int { return cmp.Compare(against(a), against(b)) }), true
}

// notes is what the class strains without breaking.
func (r Rules) notes(d Diary, add Sitting) []Break {
	before := r.Tight(d.Open, Sitting.Full, d.Closed)
	var out []Break
	for _, b := range r.Tight(append(slices.Clone(d.Open), add), Sitting.Full, d.Closed) {
		if !slices.Contains(before, b) {
			out = append(out, b)
		}
	}
	if !add.Plain {
		if b, none := r.unfed(d, add); none {
			out = append(out, b)
		}
	}
	return out
}

// Placeless is a class whose seats on sale have lost their place.
type Placeless struct {
	Code  string
	Seats int // unsold seats without a place on the rack
}

// Placeless lists seats still on sale that no longer have a place, after a move, a
// slip or a cold spell, with the slabs of seats sold counted first. Unsold seats take
// what is left in class order.
func (r Rules) Placeless(sittings []Sitting, closed Closed) []Placeless {
	used := map[unit.Day]int{}
	for _, d := range r.Rack(sittings, Sitting.Now, closed) {
		used[d.Day] = d.Used
	}
	var lost []Placeless
	for _, s := range inOrder(sittings) {
		unsold := s.Seats - s.Sold
		if unsold <= 0 || s.Plain {
			continue
		}
		span := r.span(s, closed)
		free := unsold
		// A class with no seat sold brings its demo slab along with the first.
		demo := s.Full() - s.Seats - (s.Now() - s.Sold)
		for d := span[0]; d <= span[1]; d++ {
			free = min(free, max(r.Places-used[d]-demo, 0))
		}
		for d := span[0]; d <= span[1] && free > 0; d++ {
			used[d] += free + demo
		}
		if free < unsold {
			lost = append(lost, Placeless{s.Code, unsold - free})
		}
	}
	slices.SortStableFunc(lost, func(a, b Placeless) int { return cmp.Compare(a.Code, b.Code) })
	return lost
}
