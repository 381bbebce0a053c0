package smoke

import (
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// Fits says whether the load may hang at all, or names the first rule it breaks: its
// hooks and bottom row, holds, earliest days, parties whole, every slab accounted for.
// It asks nothing about which load is best.
func (l Load) Fits(d Day, slabs []Slab) error {
	if err := check(d, slabs); err != nil {
		return err
	}
	byTag := map[string]Slab{}
	for _, s := range slabs {
		byTag[s.Tag] = s
	}
	hangs := map[string]bool{}
	hooks, bottom := 0, 0
	for _, tag := range l.Tags() {
		s, ok := byTag[tag]
		switch {
		case !ok:
			return fmt.Errorf("%s hangs and is none of the slabs", tag)
		case hangs[tag]:
			return fmt.Errorf("%s hangs twice", tag)
		case s.Held:
			return fmt.Errorf("%s hangs and is on hold", tag)
		case s.Earliest > d.Unbag:
			return fmt.Errorf("%s hangs before its earliest unbag date, %s", tag, s.Earliest.Show())
		}
		hangs[tag] = true
		hooks++
		if s.Allergen {
			bottom++
		}
	}
	if hooks > d.Hooks || bottom > d.Bottom {
		return fmt.Errorf("%d slabs, %d of them for the bottom row, on %d hooks and %d", hooks, bottom, d.Hooks, d.Bottom)
	}
	if hooks != l.Hooks || bottom != l.Bottom || d.Hooks-hooks != l.Free {
		return fmt.Errorf("the load says %d hooks, %d bottom row, %d free; it is %d, %d, %d", l.Hooks, l.Bottom, l.Free, hooks, bottom, d.Hooks-hooks)
	}
	waits := map[string]bool{}
	for _, g := range l.Waiting {
		for _, tag := range g.Tags {
			if _, ok := byTag[tag]; !ok || hangs[tag] || waits[tag] {
				return fmt.Errorf("%s waits and hangs, waits twice, or is none of the slabs", tag)
			}
			waits[tag] = true
		}
		if g.Why == "" {
			return fmt.Errorf("%v waits without a reason", g.Tags)
		}
	}
	if len(hangs)+len(waits) != len(slabs) {
		return fmt.Errorf("%d hang and %d wait of %d slabs", len(hangs), len(waits), len(slabs))
	}

	type key struct {
		sealed unit.Day
		party  string
	}
	whole := map[key]bool{}
	for _, s := range slabs {
		if s.Demo() {
			continue
		}
		k := key{s.Sealed, s.Party}
		if was, seen := whole[k]; seen && was != hangs[s.Tag] {
			return fmt.Errorf("party %s is split", s.Party)
		}
		whole[k] = hangs[s.Tag]
	}
	return nil
}

// Check says whether the load is the one the rules want for these slabs, or names
// the first rule it breaks. It shares no search with Choose: it looks at what hangs,
// and proves by the sets of fills within reach that no better or earlier set exists.
func (l Load) Check(d Day, slabs []Slab) error {
	if err := l.Fits(d, slabs); err != nil {
		return err
	}
	byTag := map[string]Slab{}
	for _, s := range slabs {
		byTag[s.Tag] = s
	}
	hangs := map[string]bool{}
	for _, tag := range l.Tags() {
		hangs[tag] = true
	}
	type key struct {
		sealed unit.Day
		party  string
	}
	type need struct {
		key
		size, bottom, hang int
		can                bool
	}
	parties := map[key]*need{}
	var order []*need
	for _, s := range slabs {
		if s.Demo() {
			continue
		}
		k := key{s.Sealed, s.Party}
		p := parties[k]
		if p == nil {
			p = &need{key: k, can: true}
			parties[k] = p
			order = append(order, p)
		}
		p.size++
		if s.Allergen {
			p.bottom++
		}
		if hangs[s.Tag] {
			p.hang++
		}
		if s.Held || s.Earliest > d.Unbag {
			p.can = false
		}
	}
	slices.SortFunc(order, func(a, b *need) int {
		if a.sealed != b.sealed {
			return int(a.sealed) - int(b.sealed)
		}
		return CompareNumbers(a.party, b.party)
	})

	type load struct{ hooks, bottom int }
	// reach is every fill the parties can make within the room given.
	reach := func(ps []*need, room load) map[load]bool {
		set := map[load]bool{{}: true}
		for _, p := range ps {
			for _, f := range keys(set) {
				g := load{f.hooks + p.size, f.bottom + p.bottom}
				if g.hooks <= room.hooks && g.bottom <= room.bottom {
					set[g] = true
				}
			}
		}
		return set
	}
	most := func(set map[load]bool) int {
		n := 0
		for f := range set {
			n = max(n, f.hooks)
		}
		return n
	}
	room := load{d.Hooks, d.Bottom}
	for len(order) > 0 {
		var date []*need
		sealed := order[0].sealed
		for len(order) > 0 && order[0].sealed == sealed {
			if order[0].can {
				date = append(date, order[0])
			}
			order = order[1:]
		}
		filled := 0
		for _, p := range date {
			filled += p.hang
		}
		target := most(reach(date, room))
		if filled != target {
			return fmt.Errorf("parties sealed %s fill %d hooks and could fill %d", sealed.Show(), filled, target)
		}
		for i, p := range date {
			if p.hang > 0 {
				room = load{room.hooks - p.size, room.bottom - p.bottom}
				target -= p.size
				continue
			}
			with := load{room.hooks - p.size, room.bottom - p.bottom}
			if with.hooks >= 0 && with.bottom >= 0 && p.size+most(reach(date[i+1:], with)) == target {
				return fmt.Errorf("party %s waits, and an equal set with its lower number exists", p.party)
			}
		}
	}

	last := ""
	for _, tag := range l.Demos {
		if !byTag[tag].Demo() {
			return fmt.Errorf("%s hangs as a demo slab and belongs to %s", tag, byTag[tag].Party)
		}
		if last != "" && CompareNumbers(last, tag) > 0 {
			return fmt.Errorf("demo slab %s hangs after %s", tag, last)
		}
		last = tag
	}
	for _, s := range slabs {
		if !s.Demo() || hangs[s.Tag] || s.Held || s.Earliest > d.Unbag {
			continue
		}
		if l.Free > 0 {
			return fmt.Errorf("demo slab %s waits while %d hooks are free", s.Tag, l.Free)
		}
		if last != "" && CompareNumbers(s.Tag, last) < 0 {
			return fmt.Errorf("demo slab %s waits while %s hangs", s.Tag, last)
		}
	}
	return nil
}

func keys[K comparable](m map[K]bool) []K {
	out := make([]K, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	return out
}
