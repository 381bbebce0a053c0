package store

import (
	"fmt"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// classTroubles are classes on sale that no kill can feed, whose order-by has passed
// without an order, and classes called off whose meat comes all the same.
func (s *Store) classTroubles(db *gorm.DB) ([]Trouble, error) {
	var out []Trouble
	calls, err := s.meatCalls(db, "order_id = 0 AND day > ? AND state IN ?", s.Today(), []shop.ClassState{shop.Open, shop.GoingAhead})
	if err != nil {
		return nil, err
	}
	if len(calls) > 0 {
		book, err := s.openBook(db, 0)
		if err != nil {
			return nil, err
		}
		for _, m := range calls {
			t, err := s.unfedTrouble(db, book, m)
			if err != nil {
				return nil, err
			}
			if t != nil {
				out = append(out, *t)
			}
		}
	}
	off, err := many[shop.Class](db, "starts_at, code", "state = ? AND order_id <> 0 AND day >= ?", shop.ClassOff, s.Today()-14)
	if err != nil {
		return nil, err
	}
	for _, c := range off {
		t, err := s.offTrouble(db, c)
		if err != nil {
			return nil, err
		}
		if t != nil {
			out = append(out, *t)
		}
	}
	return out, nil
}

// unfedTrouble is a class without a kill that fits, or nil.
func (s *Store) unfedTrouble(db *gorm.DB, book plantBook, m meatCall) (*Trouble, error) {
	alone := book
	alone.Book.Taken = append([]season.Taken{}, book.Book.Taken...)
	if err := s.planned(db, &alone, m.Class.ID); err != nil {
		return nil, err
	}
	if m.Kind.Piece != "belly" { // its half shares an animal with the bacon of its week
		alone.Book.Taken = nil
	}
	n, err := s.animalsFull(db, m.Kind.Species, []meatCall{m})
	if err != nil {
		return nil, err
	}
	call := season.Call{Code: m.Class.Code, Use: m.Kind.Code, Day: m.Class.Day}
	ch, err := alone.Rules.Choose(season.Group{Calls: []season.Call{call}, Animals: n}, s.Today(), alone.Book, alone.Closed)
	if err != nil || ch.OK() {
		return nil, err
	}
	t := &Trouble{Key: "class-" + m.Class.Code, Title: fmt.Sprintf("%s has no meat: no kill fits it", m.Class.Code), Reason: "the slaughterhouse is closed and no other kill fits the day"}
	c, err := s.touch(db, m.Class, m.Kind)
	if err != nil {
		return nil, err
	}
	c.MeatOnly = m.Kind.Piece == "belly"
	if c.MeatOnly {
		c.Wanted = m.Call.Seats.Sold + m.Call.Second + m.Call.Demo
		if m.Call.Seats.Sold == 0 {
			c.Wanted = 0
		}
		c.Short, t.Short = c.Wanted, c.Wanted
	}
	t.Touched = []TouchedClass{c}
	for _, k := range ch.All {
		t.Lines = append(t.Lines, fmt.Sprintf("Kill %s: %s.", k.Kill.Show(), strings.Join(k.Reasons, "; ")))
	}
	options, err := alone.Rules.Instead(call, n, 3, s.Today(), alone.Book, alone.Closed)
	if err != nil {
		return nil, err
	}
	d, err := s.diary(db)
	if err != nil {
		return nil, err
	}
	for i, o := range options {
		way := TroubleWay{ID: fmt.Sprintf("move:%s:%s:%s", c.Code, o.Day, o.Chosen.Kill), Remedy: "move the class", What: o.Day.Show(), Rank: 50 + i,
			Harm: demand.Harm{People: c.People}, Why: fmt.Sprintf("kill %s, hangs %s, order by %s", o.Chosen.Kill.Show(), countWord(o.Chosen.Hang, "day", "days"), o.Chosen.OrderBy.Show()),
			Costs: fmt.Sprintf("%s asked, each may take the money back (%s paid)", peopleWord(c.People), c.paid()), Gain: c.Wanted, Not: []string{"off:" + c.Code}}
		no, lost := d.moved(m.Class.ID, o.Day)
		if no != "" { // the room cannot have it that day
			way.ID, way.Why = "", no
		}
		if lost != "" {
			way.Why += "; " + lost
		}
		t.Ways = append(t.Ways, way)
	}
	if c.MeatOnly {
		if err := s.bellyElsewhere(db, t, m, ch, n); err != nil {
			return nil, err
		}
	}
	t.Ways = append(t.Ways, c.off(c.Wanted))
	// Only one day can be chosen.
	for i := range t.Ways {
		for _, o := range t.Ways {
			if strings.HasPrefix(t.Ways[i].ID, "move:") && strings.HasPrefix(o.ID, "move:") && o.ID != t.Ways[i].ID {
				t.Ways[i].Not = append(t.Ways[i].Not, o.ID)
			}
		}
	}
	return t, s.dayLetter(db, t, c, options)
}

// bellyElsewhere is where bellies of a class without a kill may come from: other
// deliveries, an earlier kill with the freezer between, boxed bellies.
func (s *Store) bellyElsewhere(db *gorm.DB, t *Trouble, m meatCall, ch season.Choice, animals int) error {
	if t.Short > 0 {
		spare, err := s.spareMeat(db, t.Short)
		if err != nil {
			return err
		}
		for _, w := range spare {
			if w.What != m.Class.Code && (w.Remedy == demand.TakeFree || w.Remedy == demand.TakeUnsold) {
				t.Ways = append(t.Ways, TroubleWay{Remedy: string(w.Remedy), What: w.What, Why: w.Why + fmt.Sprintf(" (would give %d)", w.Gain), Rank: 25, Costs: "no guest of this class is touched"})
			}
		}
	}
	y, err := yieldOf(db, 0, m.Kind.Species)
	if err != nil {
		return err
	}
	belly := y.Profile.Break(y.Profile.Forecast().Side).Belly
	steps := demand.ThawSteps(belly, 5*unit.Pound)
	for _, k := range ch.All { // of days too early, the latest that could still be ordered
		if int(m.Class.Day-k.Kill) > s.Rules.BellyKeeps && k.OrderBy >= s.Today() && k.Deliver != 0 {
			out := m.Class.StartsAt - unit.Instant(24*3600*steps)
			t.Ways = append(t.Ways, TroubleWay{Remedy: "freeze and thaw", What: "kill " + k.Kill.Show(), Rank: 45, Harm: demand.Harm{},
				Why:   fmt.Sprintf("bellies of about %s thaw in %d h: out of the freezer by %s", belly.LB(), 24*steps, out.Show(s.Loc)),
				Costs: "freezer room for " + countWord(2*animals, "belly", "bellies") + "; no guest is touched"})
			break
		}
	}
	if each := y.Profile.PerBelly(s.Rules.SlabRule(), 0).Slabs.Count; each > 0 && t.Short > 0 {
		n := (t.Short + each - 1) / each
		t.Ways = append(t.Ways, TroubleWay{Remedy: "boxed bellies", What: countWord(n, "belly", "bellies") + " bought in", Rank: 48,
			Why:   fmt.Sprintf("%d slabs a belly of about %s; only with the mark of inspection on the box", each, belly.LB()),
			Costs: "the supplier's price; the farm's name does not stand on these slabs"})
	}
	return nil
}

// offTrouble is a class that was called off after its meat was ordered: what becomes of
// the meat.
func (s *Store) offTrouble(db *gorm.DB, c shop.Class) (*Trouble, error) {
	o, err := take[shop.Order](db, "The order", "id = ?", c.OrderID)
	if err != nil {
		return nil, err
	}
	if o.State == shop.OrderOff || o.State == shop.Settled {
		return nil, nil
	}
	k, err := take[shop.ClassKind](db, "The kind of class", "id = ?", c.KindID)
	if err != nil {
		return nil, err
	}
	y, err := yieldOf(db, o.FarmID, o.Species)
	if err != nil {
		return nil, err
	}
	t := &Trouble{Key: "off-" + c.Code, Order: o.Number, Title: fmt.Sprintf("%s is called off, and %s still brings its meat", c.Code, o.Ref())}
	touched, err := s.touch(db, c, *k)
	if err != nil {
		return nil, err
	}
	t.Touched = []TouchedClass{touched}
	if n := len(touched.Bookings); n > 0 {
		t.Lines = append(t.Lines, fmt.Sprintf("%s still to choose money back, another date or credit; %s paid. Silence is money back.", countWord(n, "booking has", "bookings have"), touched.paid()))
	}
	r, err := s.orderCount(db, o, y)
	if err != nil {
		return nil, err
	}
	var others []string
	for _, share := range r.Classes {
		if share.ClassID != c.ID {
			others = append(others, fmt.Sprintf("%s wants %d", share.Code, share.Wanted))
		}
	}
	if len(others) == 0 {
		t.Lines = append(t.Lines, fmt.Sprintf("%s feeds no other bacon class.", o.Ref()))
	} else {
		t.Lines = append(t.Lines, fmt.Sprintf("Of %s %s: %d stay over.", countWord(r.Slabs, "slab", "slabs"), strings.Join(others, ", "), r.Over))
	}
	each := s.Rules.SlabFixed
	if r.Over > 0 {
		worth := s.Rules.ValueOf("belly").PerPound(each * unit.Weight(r.Over))
		t.Ways = append(t.Ways, TroubleWay{Remedy: "house bacon", What: countWord(r.Over, "slab", "slabs"), Rank: 10, Why: fmt.Sprintf("about %s at the belly's value of %s", worth, s.Rules.ValueOf("belly")), Costs: "hooks of the shop's own and a fortnight; no guest is touched"})
	}
	for j, b := range r.Bellies {
		if b.BellyID != 0 && b.Usable() && b.Moved == 0 && len(r.plan.taken[j]) == 0 && b.OrderID == o.ID {
			t.Ways = append(t.Ways, TroubleWay{ID: fmt.Sprintf("freezer:%d", b.BellyID), Remedy: "freeze", What: b.Tag, Rank: 20, Why: fmt.Sprintf("%s raw, for a class ahead: %d h to thaw", b.Weight.LB(), 24*demand.ThawSteps(b.Weight, 5*unit.Pound)), Costs: "freezer room; no guest is touched"})
		}
	}
	t.Ways = append(t.Ways, TroubleWay{Remedy: "sell over the counter", What: "what is not belly", Rank: 30, Why: fmt.Sprintf("%s, %s by the value list", r.Leaves.Total.LB(), r.Worth), Costs: "work at the counter"})
	if k.Dinner {
		t.Ways = append(t.Ways, TroubleWay{Remedy: "sell the half whole", What: k.Piece, Rank: 40, Why: "to a house, cut as they like; the dinner itself cannot be sold again", Costs: "less than cut"})
	}
	switch o.State {
	case shop.Asked, shop.Promised, shop.SlotHeld:
		why := "before its order-by the order may be made smaller, on its page"
		if o.OrderBy <= s.Now() {
			why = fmt.Sprintf("the order-by was %s: the farm has done its work, ask before you press", o.OrderBy.Show(s.Loc))
		}
		t.Ways = append(t.Ways, TroubleWay{ID: "order-off:" + fmt.Sprint(o.Number), Remedy: "call the order off", What: o.Ref(), Rank: 60, Harm: demand.Harm{Asked: 1}, Why: why, Costs: "the farm keeps its animals, and its trust in us less"})
	}
	t.Reason = c.Code + " does not take place"
	return t, nil
}
