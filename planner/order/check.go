package order

import (
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// Check lists everything wrong with a plan: it recounts pieces, days, rooms, outlets
// and money from the problem alone and knows nothing of how the plan was found.
func Check(p Problem, plan Plan) (wrong []string) {
	bad := func(format string, args ...any) { wrong = append(wrong, fmt.Sprintf(format, args...)) }
	offers, kinds, classes := map[string]*Offer{}, map[string]*Kind{}, map[string]*Class{}
	for i := range p.Offers {
		offers[p.Offers[i].ID] = &p.Offers[i]
	}
	for i := range p.Kinds {
		kinds[p.Kinds[i].Name] = &p.Kinds[i]
	}
	for i := range p.Classes {
		classes[p.Classes[i].ID] = &p.Classes[i]
	}
	forms := map[string]*Form{}
	for i := range p.Forms {
		forms[p.Forms[i].Name] = &p.Forms[i]
	}

	type of struct{ offer, kind string }
	came, went := map[of]int{}, map[of]int{}
	taken, slots := map[of]int{}, map[of]int{} // of a group, by offer or slot
	var cost unit.Money
	used := map[string]bool{}
	lines := map[of]bool{}
	for _, r := range plan.Orders {
		o, f := offers[r.Offer], forms[r.Form]
		if o == nil || f == nil || r.Units < 1 || lines[of{r.Offer, r.Form}] {
			bad("order of %d %s from offer %s: no such line, or twice", r.Units, r.Form, r.Offer)
			continue
		}
		lines[of{r.Offer, r.Form}] = true
		at := slices.IndexFunc(o.Prices, func(q Price) bool { return q.Form == r.Form })
		if at < 0 {
			bad("offer %s does not sell a %s", r.Offer, r.Form)
			continue
		}
		if o.HasOrderBy && o.OrderBy < p.Today {
			bad("offer %s had to be ordered by %s", r.Offer, p.day(o.OrderBy))
		}
		cost += o.Prices[at].Unit * unit.Money(r.Units)
		if !used[r.Offer] {
			used[r.Offer] = true
			cost += o.Drop
		}
		taken[of{r.Offer, f.Group}] += r.Units * f.Size
		if o.Slot != "" {
			slots[of{o.Slot, f.Group}] += r.Units * f.Size
		}
		for _, g := range f.Gives {
			came[of{r.Offer, g.Name}] += g.N * r.Units
		}
	}
	for i := range p.Offers {
		o := &p.Offers[i]
		for _, f := range p.Forms {
			if n, most := taken[of{o.ID, f.Group}], countOf(o.Caps, f.Group); n > most {
				bad("offer %s: %d of %s, it has %d", o.ID, n, f.Group, most)
				taken[of{o.ID, f.Group}] = 0 // said once
			}
		}
	}
	for _, s := range p.Slots {
		if n := slots[of{s.Name, s.Group}]; n > s.Most {
			bad("slot %s: %d of %s, it has %d", s.Name, n, s.Group, s.Most)
		}
	}
	for _, b := range plan.Broken {
		k := kinds[b.Kind]
		if k == nil || len(k.BreaksInto) == 0 || b.Pieces < 1 {
			bad("%d %s of offer %s cannot be broken", b.Pieces, b.Kind, b.Offer)
			continue
		}
		went[of{b.Offer, b.Kind}] += b.Pieces
		for _, part := range k.BreaksInto {
			came[of{b.Offer, part.Name}] += part.N * b.Pieces
		}
	}

	fed := map[of]int{} // class and kind
	source := map[string]string{}
	cooler, freezer := map[int]int{}, map[int]int{}
	fill := func(room map[int]int, from, to, n int) {
		for d := from; d <= to; d++ {
			room[d] += n
		}
	}
	for _, u := range plan.Uses {
		o, c, k := offers[u.Offer], classes[u.Class], kinds[u.Kind]
		if o == nil || c == nil || k == nil || u.Pieces < 1 {
			bad("%d %s of offer %s for class %s: no such thing", u.Pieces, u.Kind, u.Offer, u.Class)
			continue
		}
		went[of{u.Offer, u.Kind}] += u.Pieces
		fed[of{u.Class, u.Kind}] += u.Pieces
		if c.From != nil && !slices.Contains(c.From, u.Offer) {
			bad("class %s may not have meat of offer %s", u.Class, u.Offer)
		}
		if first, ok := source[u.Class]; ok && c.OneOffer && first != u.Offer {
			bad("class %s wants one offer, it gets %s and %s", u.Class, first, u.Offer)
		}
		source[u.Class] = u.Offer
		days := c.Day - o.Day
		if !u.Frozen {
			if days < k.FreshMin || days > k.FreshMax {
				bad("%s of offer %s for class %s: %d days from delivery, fresh is %d to %d", u.Kind, u.Offer, u.Class, days, k.FreshMin, k.FreshMax)
			}
			fill(cooler, o.Day, c.Day, u.Pieces*k.Space)
			continue
		}
		thaw := countOf(c.Thaw, u.Kind)
		switch {
		case !slices.Contains(c.FrozenOK, u.Kind):
			bad("class %s does not take %s frozen", u.Class, u.Kind)
		case days <= k.FreshMax || days > k.FrozenMax:
			bad("%s of offer %s for class %s: %d days from delivery, frozen is %d to %d", u.Kind, u.Offer, u.Class, days, k.FreshMax+1, k.FrozenMax)
		case days < thaw:
			bad("%s of offer %s for class %s: %d days from delivery, it thaws %d", u.Kind, u.Offer, u.Class, days, thaw)
		}
		cost += k.FreezeCost * unit.Money(u.Pieces)
		fill(freezer, o.Day, c.Day-thaw, u.Pieces*k.Space)
		if thaw > 0 {
			fill(cooler, c.Day-thaw, c.Day, u.Pieces*k.Space)
		}
	}
	for i := range p.Classes {
		c := &p.Classes[i]
		for _, k := range p.Kinds {
			if n, want := fed[of{c.ID, k.Name}], countOf(c.Demand, k.Name); n != want {
				bad("class %s gets %d %s, it needs %d", c.ID, n, k.Name, want)
			}
		}
	}
	for name, room := range map[string]struct {
		size Room
		full map[int]int
	}{"cooler": {p.Cooler, cooler}, "freezer": {p.Freezer, freezer}} {
		for d, n := range room.full {
			if size := room.size.on(d); n > size {
				bad("the %s holds %d on %s, it has room for %d", name, n, p.day(d), size)
			}
		}
	}

	sold := map[of]map[int]int{}
	for _, s := range plan.Sold {
		o, k := offers[s.Offer], kinds[s.Kind]
		if o == nil || k == nil || s.Pieces < 1 {
			bad("%d %s of offer %s cannot be sold", s.Pieces, s.Kind, s.Offer)
			continue
		}
		went[of{s.Offer, s.Kind}] += s.Pieces
		cost -= k.Value * unit.Money(s.Pieces)
		if sold[of{"", s.Kind}] == nil {
			sold[of{"", s.Kind}] = map[int]int{}
		}
		sold[of{"", s.Kind}][p.week(o.Day)] += s.Pieces
	}
	for at, weeks := range sold {
		k := kinds[at.kind]
		for w, n := range weeks {
			most := 0
			if w >= 0 && w < len(k.Outlet) {
				most = k.Outlet[w]
			}
			if n > most {
				bad("week %d: %d %s to sell, the outlet takes %d", w, n, at.kind, most)
			}
		}
	}
	for _, w := range plan.Waste {
		if w.Pieces < 1 {
			bad("%d %s of offer %s left over", w.Pieces, w.Kind, w.Offer)
		}
		went[of{w.Offer, w.Kind}] += w.Pieces
	}
	for _, at := range both(came, went) {
		if came[at] != went[at] {
			bad("offer %s: %d %s came, %d went somewhere", at.offer, came[at], at.kind, went[at])
		}
	}
	if cost != plan.Cost {
		bad("the plan says it costs %s, it costs %s", plan.Cost, cost)
	}
	if plan.Bound > plan.Cost || plan.Proven != (plan.Bound == plan.Cost) {
		bad("bound %s, cost %s, proven %v", plan.Bound, plan.Cost, plan.Proven)
	}
	slices.Sort(wrong)
	return wrong
}

func both[K comparable](a, b map[K]int) []K {
	var keys []K
	for k := range a {
		keys = append(keys, k)
	}
	for k := range b {
		if _, ok := a[k]; !ok {
			keys = append(keys, k)
		}
	}
	return keys
}
