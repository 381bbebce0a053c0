package store

import (
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// want is one slab somebody is to have.
type want struct {
	SeatID shop.SeatID
	Slot   int
	Demo   bool
}

// served is a want and the piece of belly it gets.
type served struct {
	want
	slab  *shop.Slab // the slab cut for it already, if any
	adopt bool       // that slab was cut for somebody who left, and becomes this seat's
	again *shop.Slab // its row, when it takes a dumped slab's place and is not cut yet
	belly int        // index into the bellies, or −1
	piece int
}

// allocation is who gets which piece of which belly: classes in time order, within a
// class by booking number, seat and slot, demos last; bellies animal by animal, left
// side first. One belly may feed two classes.
type allocation struct {
	calls   []meatCall
	bellies []BellyLine
	rows    map[shop.ClassID][]served
	spare   map[shop.ClassID][]shop.Slab  // cut, and nobody's any more
	numbers map[shop.ClassID]map[int]bool // of slabs cut: theirs for ever
	taken   []map[int]bool                // pieces in use, by belly
	free    []int                         // pieces nobody has, by belly
	given   []int                         // pieces given out now, by belly
	open    int                           // wants without a slab cut for them yet
	short   int
}

// allocate deals the bellies out. Slabs that are cut keep what they are.
func (s *Store) allocate(db *gorm.DB, calls []meatCall, bellies []BellyLine) (allocation, error) {
	a := allocation{bellies: bellies, rows: map[shop.ClassID][]served{}, spare: map[shop.ClassID][]shop.Slab{}, numbers: map[shop.ClassID]map[int]bool{},
		taken: make([]map[int]bool, len(bellies)), free: make([]int, len(bellies)), given: make([]int, len(bellies))}
	at := map[shop.BellyID]int{}
	for i, b := range bellies {
		a.taken[i] = map[int]bool{}
		at[b.BellyID] = i
	}
	for _, m := range calls {
		if m.Call.Unit != demand.Belly {
			continue
		}
		a.calls = append(a.calls, m)
		wants, err := s.wants(db, m.Class)
		if err != nil {
			return a, err
		}
		slabs, err := many[shop.Slab](db, "number", "class_id = ? AND id NOT IN (SELECT new_slab_id FROM amends)", m.Class.ID)
		if err != nil {
			return a, err
		}
		again, err := slabsAgain(db, m.Class.ID)
		if err != nil {
			return a, err
		}
		var cut []shop.Slab
		listed := map[want]bool{} // on the cut list already, and still to be cut
		for _, sl := range slabs {
			if sl.State == shop.Wanted {
				listed[want{sl.SeatID, sl.Slot, sl.Demo}] = true
			} else {
				cut = append(cut, sl)
			}
		}
		a.numbers[m.Class.ID] = map[int]bool{}
		for i := range cut {
			a.numbers[m.Class.ID][cut[i].Number] = true
			if j, ok := at[cut[i].BellyID]; ok {
				a.taken[j][cut[i].Piece] = true
			}
		}
		if err := a.keepNumbers(db, m.Class.ID); err != nil {
			return a, err
		}
		a.rows[m.Class.ID], a.spare[m.Class.ID] = match(wants, cut, listed)
		a.serveAgain(m.Class.ID, again, at)
	}
	for _, m := range a.calls {
		rows := a.rows[m.Class.ID]
		for i := range rows {
			if rows[i].slab != nil {
				continue
			}
			a.open++
			if !a.deal(rows, i, m.Class.Day) {
				a.short++
			}
		}
		if err := a.sooner(s, db, m.Class, rows); err != nil {
			return a, err
		}
	}
	for j, b := range bellies {
		if b.Usable() {
			a.free[j] = max(b.Cut.Slabs.Count-len(a.taken[j]), 0)
		}
	}
	return a, nil
}

// deal gives a row the first piece that is free by a day, if there is one.
func (a allocation) deal(rows []served, i int, by unit.Day) bool {
	j, p := a.next(by)
	rows[i].belly, rows[i].piece = j, p
	if j < 0 {
		return false
	}
	a.taken[j][p] = true
	a.given[j]++
	return true
}

// next is the first piece that is free by a day, or −1.
func (a allocation) next(by unit.Day) (belly, piece int) {
	for j, b := range a.bellies {
		if !b.Usable() || b.From() > by {
			continue
		}
		for p := 1; p <= b.Cut.Slabs.Count; p++ {
			if !a.taken[j][p] {
				return j, p
			}
		}
	}
	return -1, 0
}

// wants lists the slabs a class wants (R17), in the order they are tagged. A class with
// no seat sold wants none, not even for showing.
func (s *Store) wants(db *gorm.DB, c shop.Class) ([]want, error) {
	var seats []struct {
		ID    shop.SeatID
		Slabs int
	}
	err := db.Raw(`SELECT s.id, s.slabs FROM seats s JOIN bookings b ON b.id = s.booking_id
		WHERE s.class_id = ? AND s.slabs > 0 AND s.state IN ? ORDER BY b.number, s.position, s.id`, c.ID, holding).Scan(&seats).Error
	if err != nil {
		return nil, fmt.Errorf("slabs wanted by %s: %w", c.Code, err)
	}
	var wants []want
	for _, seat := range seats {
		for slot := 1; slot <= seat.Slabs; slot++ {
			wants = append(wants, want{SeatID: seat.ID, Slot: slot})
		}
	}
	if len(wants) == 0 {
		return nil, nil
	}
	for i := 1; i <= c.DemoSlabs; i++ {
		wants = append(wants, want{Slot: i, Demo: true})
	}
	return wants, nil
}

// match gives each want the slab that was cut for it. Cut slabs of seats that are gone
// are spare: the shop's own. A second slab of a seat (one was dumped, one cured again)
// stays the seat's.
func match(wants []want, cut []shop.Slab, listed map[want]bool) (rows []served, spare []shop.Slab) {
	used, seats := make([]bool, len(cut)), map[shop.SeatID]bool{}
	for _, w := range wants {
		r := served{want: w, belly: -1}
		seats[w.SeatID] = true
		for i := range cut {
			c := &cut[i]
			if !used[i] && (w.Demo && c.Demo || !w.Demo && c.SeatID == w.SeatID && c.Slot == w.Slot) {
				used[i], r.slab = true, c
				break
			}
		}
		rows = append(rows, r)
	}
	// A slab cut for somebody who left goes to who comes, before new meat is cut; who is
	// on the list already keeps the tag that stands there.
	for j := range rows {
		if rows[j].slab != nil || rows[j].Demo || listed[rows[j].want] {
			continue
		}
		for i := range cut {
			c := &cut[i]
			if !used[i] && c.SeatID == 0 && !c.Demo && (c.State == shop.Cut || c.State == shop.Kitted) {
				used[i], rows[j].slab, rows[j].adopt = true, c, true
				break
			}
		}
	}
	for _, c := range cut {
		if c.SeatID != 0 && !seats[c.SeatID] {
			spare = append(spare, c)
		}
	}
	return rows, spare
}

// show writes the figures of the allocation into a recount.
func (a allocation) show(r *Recount) {
	for j := range r.Bellies {
		b := &r.Bellies[j]
		if b.Usable() {
			r.Slabs += b.Cut.Slabs.Count
		}
		r.Over += a.free[j]
	}
	over := r.Over
	for _, m := range a.calls {
		c := ClassShare{ClassID: m.Class.ID, Code: m.Class.Code, Title: m.Class.Title, Starts: m.Class.StartsAt, Demos: m.Class.DemoSlabs}
		n := make([]int, len(r.Bellies))
		for _, row := range a.rows[m.Class.ID] {
			c.Wanted++
			switch {
			case row.slab != nil:
				c.Gets++
			case row.belly >= 0:
				c.Gets++
				n[row.belly]++
			default:
				c.Short++
			}
		}
		for j, k := range n {
			if k > 0 {
				r.Bellies[j].For = append(r.Bellies[j].For, fmt.Sprintf("%s × %d", m.Class.Code, k))
			}
		}
		r.Wanted += c.Wanted
		// Seats on sale are fed in class order, so the latest class loses first.
		unsold := m.Class.Left()
		fed := min(unsold, over)
		over -= fed
		if m.Class.OnSale(m.Class.StartsAt - 1) {
			c.Unfed = unsold - fed
		}
		r.Classes = append(r.Classes, c)
	}
	r.Short = a.short
}
