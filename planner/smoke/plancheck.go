package smoke

import "fmt"

// Check says whether the plan hangs every slab once where it may, and counts as it
// says it does. It is written apart from the search and knows nothing of it; that no
// better plan exists it cannot see.
func (p Plan) Check(a Ahead) error {
	type place struct{ day, slot int }
	open := map[int]OpenDay{}
	for _, o := range a.Open {
		open[o.Day] = o
	}
	slabs := map[int]Due{}
	for _, s := range a.Slabs {
		slabs[s.ID] = s
	}
	where := map[int]place{}
	ran := map[place]bool{}
	perDay := map[int]int{}
	late := 0
	for _, b := range p.Batches {
		o, ok := open[b.Day]
		if !ok {
			return fmt.Errorf("a load runs on day %d, which is not open", b.Day)
		}
		at := place{b.Day, b.Slot}
		if ran[at] || b.Slot < 0 || b.Slot >= o.Loads {
			return fmt.Errorf("load %d of day %d is run twice, or is more than %d", b.Slot, b.Day, o.Loads)
		}
		ran[at] = true
		if perDay[b.Day]++; perDay[b.Day] > o.Loads {
			return fmt.Errorf("%d loads run on day %d, more than %d", perDay[b.Day], b.Day, o.Loads)
		}
		if len(b.Slabs) == 0 {
			return fmt.Errorf("load %d of day %d is empty", b.Slot, b.Day)
		}
		bottom := 0
		for _, id := range b.Slabs {
			s, ok := slabs[id]
			if !ok {
				return fmt.Errorf("slab %d hangs and is none of the slabs", id)
			}
			if was, twice := where[id]; twice {
				return fmt.Errorf("slab %d hangs on day %d and on day %d", id, was.day, b.Day)
			}
			where[id] = at
			if b.Day < s.Ready || b.Day > s.Last {
				return fmt.Errorf("slab %d hangs on day %d, outside %d to %d", id, b.Day, s.Ready, s.Last)
			}
			if s.Allergen {
				bottom++
			}
			if d := b.Day + 1 - s.Pickup; d > 0 {
				late += d
			}
			for _, other := range b.Slabs {
				for _, c := range a.Conflict {
					if c == [2]string{s.Group, slabs[other].Group} {
						return fmt.Errorf("slabs %d (%s) and %d (%s) share load %d of day %d", id, c[0], other, c[1], b.Slot, b.Day)
					}
				}
			}
		}
		if len(b.Slabs) > o.Hooks || bottom > o.Bottom {
			return fmt.Errorf("load %d of day %d has %d slabs, %d of them for the bottom row, on %d hooks and %d", b.Slot, b.Day, len(b.Slabs), bottom, o.Hooks, o.Bottom)
		}
	}
	party := map[string]place{}
	for _, s := range a.Slabs {
		at, ok := where[s.ID]
		if !ok {
			return fmt.Errorf("slab %d hangs nowhere", s.ID)
		}
		if s.Party == "" {
			continue
		}
		if was, ok := party[s.Party]; ok && was != at {
			return fmt.Errorf("party %s is split over days %d and %d", s.Party, was.day, at.day)
		}
		party[s.Party] = at
	}
	if late != p.LateDays || len(p.Batches) != p.Loads {
		return fmt.Errorf("the plan says %d late days and %d loads; it is %d and %d", p.LateDays, p.Loads, late, len(p.Batches))
	}
	if p.LateBound > p.LateDays || p.Bound > p.Loads || (p.Status == Proven) != (p.LateBound == p.LateDays && p.Bound == p.Loads) {
		return fmt.Errorf("%s, with bounds of %d late days and %d loads under %d and %d", p.Status, p.LateBound, p.Bound, p.LateDays, p.Loads)
	}
	return nil
}
