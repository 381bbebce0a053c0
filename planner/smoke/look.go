package smoke

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// A Coming slab waits for smoke now or will once it is sealed.
type Coming struct {
	Slab
	Promise unit.Day // ready-about as its people were told; none for the shop's own
	Pinned  unit.Day // it left its bag for this smoke day; none while it may still wait
}

// A DayAhead is a smoke day to come.
type DayAhead struct {
	Day    unit.Day
	Hooks  int // for class slabs, the shop's own bacon taken off
	Bottom int // of them, in the bottom row
}

// A Score is how plans are compared: late days first, then loads.
type Score struct{ LateDays, Loads int }

// A Stay is a party of one seal date with its smoke day by the house rule and by the
// plan ahead; none where it finds no load.
type Stay struct {
	Party       string // "" for the shop's own
	Sealed      unit.Day
	Tags        []string
	Promise     unit.Day
	House, Plan unit.Day
}

// Late is the days after the promise that a party smoked on a day is late by, for each
// of its slabs.
func (s Stay) Late(day unit.Day) int {
	if s.Promise == 0 || day == 0 {
		return 0
	}
	return max(0, int(day+1-s.Promise))
}

// LookDay is one smoke day by both ways.
type LookDay struct {
	DayAhead
	House, Plan       []string // tags
	HouseLow, PlanLow int      // of them, in the bottom row
}

// An Outlook sets the house rule's loads, chosen day after day, beside the plan that
// looks over all of them at once.
type Outlook struct {
	Days        []LookDay
	House, Plan Score
	LateBound   int    // no plan is late by fewer days
	Bound       int    // no plan with so few late days has fewer loads
	Status      Status // of the plan
	NoPlan      string // why there is no plan that keeps every latest day; "" when there is one
	Stays       []Stay // every party, by seal date and number
	Stretched   []string
	Held        []string // tags left out of both: on hold, or of a party that is
	Left        []string // tags that find no hook at all
	Work        int64
}

// Moves lists the parties that the plan would hang on another day.
func (o Outlook) Moves() []Stay {
	var out []Stay
	for _, s := range o.Stays {
		if o.NoPlan == "" && s.House != s.Plan {
			out = append(out, s)
		}
	}
	return out
}

// PlanOf is what the plan hangs on a day.
func (o Outlook) PlanOf(day unit.Day) ([]string, bool) {
	for _, d := range o.Days {
		if d.Day == day && o.NoPlan == "" {
			return d.Plan, true
		}
	}
	return nil, false
}

// band is a party of one seal date on its way through the days.
type band struct {
	Stay
	slabs []Coming
	held  bool
	low   int
	pin   unit.Day
}

// Look plans all days ahead both ways. A slab may hang from the day after its earliest
// unbag day to the day after its latest; where no smoke day lies between, the first one
// after that is taken, and said. What is on hold is planned on no day: it is not known
// when it comes back. The error is unit.Faults.
func Look(days []DayAhead, slabs []Coming, work int64) (Outlook, error) {
	var plain []Slab
	for _, s := range slabs {
		plain = append(plain, s.Slab)
	}
	if err := check(Day{Unbag: 1}, plain); err != nil {
		return Outlook{}, err
	}
	days = slices.Clone(days)
	slices.SortFunc(days, func(a, b DayAhead) int { return cmp.Compare(a.Day, b.Day) })
	var o Outlook
	for _, d := range days {
		o.Days = append(o.Days, LookDay{DayAhead: d})
	}
	bands := bandsOf(slabs)
	for _, b := range bands {
		if b.held {
			o.Held = append(o.Held, b.Tags...)
		}
	}
	if err := o.byHouse(bands); err != nil {
		return Outlook{}, err
	}
	if err := o.byPlan(bands, work); err != nil {
		return Outlook{}, err
	}
	for _, b := range bands {
		o.Stays = append(o.Stays, b.Stay)
	}
	return o, nil
}

// bandsOf groups the slabs; each of the shop's own stands by itself.
func bandsOf(slabs []Coming) []*band {
	slabs = slices.Clone(slabs)
	slices.SortFunc(slabs, func(a, b Coming) int {
		return cmp.Or(cmp.Compare(a.Sealed, b.Sealed), CompareNumbers(a.Party, b.Party), CompareNumbers(a.Tag, b.Tag))
	})
	var out []*band
	for _, s := range slabs {
		n := len(out)
		if n == 0 || s.Demo() || out[n-1].Sealed != s.Sealed || out[n-1].Party != s.Party {
			out = append(out, &band{Stay: Stay{Party: s.Party, Sealed: s.Sealed}})
			n++
		}
		b := out[n-1]
		b.slabs, b.Tags = append(b.slabs, s), append(b.Tags, s.Tag)
		b.held = b.held || s.Held
		b.pin = max(b.pin, s.Pinned)
		if s.Allergen {
			b.low++
		}
		if s.Promise != 0 && (b.Promise == 0 || s.Promise < b.Promise) {
			b.Promise = s.Promise
		}
	}
	return out
}

// byHouse chooses load after load. Choose decides; each load passes its own Check.
func (o *Outlook) byHouse(bands []*band) error {
	left := slices.DeleteFunc(slices.Clone(bands), func(b *band) bool { return b.held })
	for i := range o.Days {
		d := &o.Days[i]
		room := Day{Unbag: d.Day - 1, Hooks: d.Hooks, Bottom: d.Bottom}
		var may []Slab
		hang := func(b *band) {
			b.House = d.Day
			d.House, d.HouseLow = append(d.House, b.Tags...), d.HouseLow+b.low
		}
		for _, b := range left {
			if b.pin == d.Day {
				hang(b)
				room.Hooks, room.Bottom = max(0, room.Hooks-len(b.Tags)), max(0, room.Bottom-b.low)
			} else if b.pin == 0 {
				for _, s := range b.slabs {
					may = append(may, s.Slab)
				}
			}
		}
		room.Bottom = min(room.Bottom, room.Hooks)
		l, err := Choose(room, may)
		if err != nil {
			return err
		}
		if err := l.Check(room, may); err != nil {
			return fmt.Errorf("smoke: the house rule's load of %s: %w", d.Day, err)
		}
		hung := map[string]bool{}
		for _, tag := range l.Tags() {
			hung[tag] = true
		}
		for _, b := range left {
			if hung[b.Tags[0]] {
				hang(b)
			}
		}
		left = slices.DeleteFunc(left, func(b *band) bool { return b.House != 0 })
		o.House.Loads += one(len(d.House) > 0)
	}
	for _, b := range bands {
		for _, s := range b.slabs {
			o.House.LateDays += Stay{Promise: s.Promise}.Late(b.House)
		}
		if b.House == 0 && !b.held {
			o.Left = append(o.Left, b.Tags...)
		}
	}
	return nil
}

func one(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// byPlan asks PlanAhead and reads its batches back.
func (o *Outlook) byPlan(bands []*band, work int64) error {
	var a Ahead
	for _, d := range o.Days {
		a.Open = append(a.Open, OpenDay{Day: int(d.Day), Loads: 1, Hooks: d.Hooks, Bottom: d.Bottom})
	}
	const never = maxDay // a promise nobody made
	var owner []*band
	for n, b := range bands {
		if b.held {
			continue
		}
		first, last, ok := o.window(b)
		if !ok {
			continue // in Left already, or the house rule found it a day past its latest
		}
		for _, s := range b.slabs {
			due := Due{ID: len(owner), Party: fmt.Sprint(n), Ready: int(first), Last: int(last), Pickup: never, Allergen: s.Allergen}
			if s.Promise != 0 {
				due.Pickup = int(s.Promise)
			}
			a.Slabs = append(a.Slabs, due)
			owner = append(owner, b)
		}
	}
	p, err := PlanAhead(a, work)
	if errors.Is(err, ErrNoPlan) || errors.Is(err, ErrNoneYet) {
		o.NoPlan = "There is no way to hang every slab by its latest day."
		if errors.Is(err, ErrNoneYet) {
			o.NoPlan = "No plan was found in the time there is; there may be one."
		}
		return nil
	}
	if err != nil {
		return err
	}
	o.Plan, o.LateBound, o.Bound, o.Status, o.Work = Score{p.LateDays, p.Loads}, p.LateBound, p.Bound, p.Status, p.Work
	for _, batch := range p.Batches {
		for _, id := range batch.Slabs {
			owner[id].Plan = unit.Day(batch.Day)
		}
	}
	for i := range o.Days {
		d := &o.Days[i]
		for _, b := range bands {
			if b.Plan == d.Day {
				d.Plan, d.PlanLow = append(d.Plan, b.Tags...), d.PlanLow+b.low
			}
		}
	}
	return nil
}

// window is the first and last smoke day of a party.
func (o *Outlook) window(b *band) (first, last unit.Day, ok bool) {
	if b.pin != 0 {
		return b.pin, b.pin, slices.ContainsFunc(o.Days, func(d LookDay) bool { return d.Day == b.pin })
	}
	var earliest, latest unit.Day
	for _, s := range b.slabs {
		earliest = max(earliest, s.Earliest)
		if s.Latest != 0 && (latest == 0 || s.Latest < latest) {
			latest = s.Latest
		}
	}
	for _, d := range o.Days {
		if d.Day-1 < earliest || len(b.Tags) > d.Hooks || b.low > d.Bottom {
			continue
		}
		if first == 0 {
			first = d.Day
		}
		if latest == 0 || d.Day-1 <= latest {
			last = d.Day
		}
	}
	if first == 0 {
		return 0, 0, false
	}
	if last == 0 {
		last = first
		name := b.Party
		if name == "" {
			name = b.Tags[0]
		}
		o.Stretched = append(o.Stretched, fmt.Sprintf("%s should be out of the bag by %s, and no smoke day with room for it lies by then: the first after that is %s", name, latest.Show(), first.Show()))
	}
	return first, last, true
}

// Taken is the load of these tags, whole parties, with the rest waiting. It decides
// nothing: Fits says whether it may hang.
func Taken(d Day, slabs []Slab, tags []string, hangs, waits string) (Load, error) {
	if err := check(d, slabs); err != nil {
		return Load{}, err
	}
	groups, demos := sorted(slabs)
	var l Load
	for _, g := range groups {
		if slices.Contains(tags, g.Tags[0]) {
			g.Why = hangs
			l.Groups = append(l.Groups, g.Group)
			l.Hooks, l.Bottom = l.Hooks+len(g.Tags), l.Bottom+g.Bottom
			continue
		}
		why := g.back(d)
		if why == "" {
			why = waits
		}
		l.Waiting = append(l.Waiting, g.with(why))
	}
	for _, s := range demos {
		if slices.Contains(tags, s.Tag) {
			l.Demos = append(l.Demos, s.Tag)
			l.Hooks++
			continue
		}
		one := group{Group: Group{Sealed: s.Sealed, Tags: []string{s.Tag}}, slabs: []Slab{s}}
		why := one.back(d)
		if why == "" {
			why = waits
		}
		l.Waiting = append(l.Waiting, one.with(why))
	}
	l.Free = d.Hooks - l.Hooks
	if n := len(l.Tags()); n != len(tags) {
		return Load{}, fmt.Errorf("smoke: %d slabs of %d hang: a tag is unknown or a party is split", n, len(tags))
	}
	return l, nil
}
