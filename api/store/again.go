package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/season"
	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

// A meatSpare is one order's slabs besides what is promised.
type meatSpare struct {
	First  shop.Class // of those it feeds
	Free   int        // slabs nobody claims, every seat taken as sold
	Unsold []shop.Class
	SealOn unit.Day // first day its meat may be on the bench: the working day after delivery
}

// spares are the orders ahead with what they give besides; first come, first delivered.
func (s *Store) spares(db *gorm.DB) ([]meatSpare, error) {
	calls, err := s.meatCalls(db, "starts_at > ? AND order_id <> 0", s.Now())
	if err != nil {
		return nil, err
	}
	closed, err := closedForWork(db)
	if err != nil {
		return nil, err
	}
	var out []meatSpare
	for _, g := range groupCalls(calls, func(m meatCall) string { return fmt.Sprint(m.Class.OrderID) }) {
		var sp meatSpare
		wanted := 0
		for _, m := range g {
			if m.Call.Unit != demand.Belly {
				continue
			}
			if sp.First.ID == 0 {
				sp.First = m.Class
			}
			wanted += m.Call.Seats.Full + m.Call.Second + m.Call.Demo
			if m.Class.Left() > 0 {
				sp.Unsold = append(sp.Unsold, m.Class)
			}
		}
		if sp.First.ID == 0 {
			continue
		}
		slabs, err := s.slabsAhead(db, g)
		if err != nil {
			return nil, err
		}
		sp.Free = max(slabs-wanted, 0)
		var delivered unit.Day
		err = db.Raw("SELECT delivery_day FROM kill_days WHERE id = (SELECT kill_day_id FROM orders WHERE id = ?)", sp.First.OrderID).Scan(&delivered).Error
		if err != nil {
			return nil, err
		}
		sp.SealOn = nextWorkday(max(delivered, s.Today()), closed)
		out = append(out, sp)
	}
	slices.SortStableFunc(out, func(a, b meatSpare) int { return cmp.Compare(a.SealOn, b.SealOn) })
	return out, nil
}

// nextWorkday is the first day of production after a day: Monday to Saturday, not closed.
func nextWorkday(day unit.Day, closed season.Closed) unit.Day {
	for day++; day.Weekday() == 0 || closed.Has(day); day++ {
	}
	return day
}

// A piece to cure again: where it comes from.
type againMeat struct {
	Class  shop.Class
	Unsold bool
	SealOn unit.Day
}

// dealAgain finds meat for n slabs: free ones first, then unsold seats' slabs, the latest
// class first (R18c). It may find fewer.
func dealAgain(sp []meatSpare, n int) []againMeat {
	var out []againMeat
	for _, g := range sp {
		for range min(g.Free, n-len(out)) {
			out = append(out, againMeat{g.First, false, g.SealOn})
		}
	}
	var seats []againMeat
	for _, g := range sp {
		for _, c := range g.Unsold {
			for range c.Left() {
				seats = append(seats, againMeat{c, true, g.SealOn})
			}
		}
	}
	slices.SortStableFunc(seats, func(a, b againMeat) int { return cmp.Compare(b.Class.StartsAt, a.Class.StartsAt) })
	return append(out, seats[:min(len(seats), n-len(out))]...)
}

// meatAgain sets meat aside for one dumped slab: the class whose delivery gives it counts
// one slab more, and where it is an unsold seat's, that seat is off sale from this moment.
// The database refuses a seat that was sold meanwhile.
func (t tx) meatAgain(by shop.Actor, a *shop.Amend) error {
	if err := t.Exec("UPDATE orders SET id = id WHERE id IN (SELECT order_id FROM classes WHERE starts_at > ?)", t.now).Error; err != nil {
		return err
	}
	sp, err := t.s.spares(t.DB)
	if err != nil {
		return err
	}
	got := dealAgain(sp, 1)
	if len(got) == 0 {
		return nil // it waits, and the shop sees that it does
	}
	a.ClassID, a.Unsold = got[0].Class.ID, got[0].Unsold
	if a.Unsold {
		if err := t.takeUnsold(by, a.ClassID, 1); err != nil {
			return err
		}
	}
	return t.Model(&shop.Class{}).Where("id = ?", a.ClassID).
		Updates(map[string]any{"again_slabs": gorm.Expr("again_slabs + 1"), "revision": gorm.Expr("revision + 1")}).Error
}

// CureAgain says yes to curing dumped slabs again: each is replaced by a new one under its
// own class's next tag, for the same seat and pick. Only the owner may, since it moves
// what the smokehouse holds for others. No tags: all whose party chose it. It returns the
// new tags; its people are told their new date once.
func (s *Store) CureAgain(ctx context.Context, by shop.Actor, tags []string) (made []string, err error) {
	if !by.May(shop.Owner) {
		return nil, shop.ErrNotAllowed
	}
	err = s.tx(ctx, func(t tx) error {
		made = nil
		all, err := many[shop.Amend](t.DB, "slab_id", "choice = ? AND done_at = 0", shop.AmendAgain)
		if err != nil {
			return err
		}
		left := map[shop.SlabID]*shop.Amend{}
		var slabs []shop.Slab
		for i := range all {
			left[all[i].SlabID] = &all[i]
			sl, err := take[shop.Slab](t.DB, "The slab", "id = ?", all[i].SlabID)
			if err != nil {
				return err
			}
			slabs = append(slabs, *sl)
		}
		for _, tag := range tags {
			if !slices.ContainsFunc(slabs, func(sl shop.Slab) bool { return sl.Tag == ScannedTag(tag) }) {
				return field("tags", "%s does not wait to be cured again.", ScannedTag(tag))
			}
		}
		told := map[shop.BookingID]*shop.Facts{}
		var order []shop.BookingID
		for i := range slabs {
			sl := &slabs[i]
			if len(tags) > 0 && !slices.ContainsFunc(tags, func(tag string) bool { return ScannedTag(tag) == sl.Tag }) {
				continue
			}
			a := left[sl.ID]
			fresh, err := t.cureAgain(by, a, sl)
			if err != nil {
				return err
			}
			made = append(made, fresh.Tag)
			f := told[a.BookingID]
			if f == nil {
				f = &shop.Facts{}
				told[a.BookingID], order = f, append(order, a.BookingID)
			}
			f.Tags = append(f.Tags, fresh.Tag)
			f.OldReadyOn, f.ReadyOn = max(f.OldReadyOn, sl.ReadyOn), max(f.ReadyOn, fresh.ReadyOn)
		}
		if len(made) == 0 {
			return shop.Stop("nothing_again", "Nobody waits to have a slab cured again.")
		}
		for _, id := range order {
			b, err := take[shop.Booking](t.DB, "The booking", "id = ?", id)
			if err != nil {
				return err
			}
			f := *told[id]
			if f.ReadyOn == 0 {
				continue // no day is known: none is told
			}
			f.Ref, f.Reason = b.Ref(), "We cure it again for you, with the same spice, and it takes its time from the start."
			if err := t.tell(t.toCollector(b, shop.NoticeDateMoved, fmt.Sprintf("again/%d/%s", id, f.Tags[0])), f); err != nil {
				return err
			}
		}
		return nil
	})
	return made, err
}

func (t tx) cureAgain(by shop.Actor, a *shop.Amend, sl *shop.Slab) (*shop.Slab, error) {
	if a.ClassID == 0 {
		if err := t.meatAgain(by, a); err != nil {
			return nil, err
		}
		if a.ClassID == 0 {
			return nil, shop.Stop("no_meat", "There is no meat for %s: no slab is free and no seat is unsold in the classes whose meat is ordered.", sl.Tag)
		}
	}
	if moved, err := t.moveSlab(sl, move{by: by, to: shop.Replaced, scan: Scan{Tag: sl.Tag, Once: "cured again"}, reason: "cured again by the shop"}); err != nil {
		return nil, err
	} else if !moved {
		return nil, shop.ErrMoved
	}
	var last int
	if err := t.Raw("SELECT max(number) FROM slabs WHERE class_id = ?", sl.ClassID).Scan(&last).Error; err != nil {
		return nil, err
	}
	own, err := take[shop.Class](t.DB, "The class", "id = ?", sl.ClassID)
	if err != nil {
		return nil, err
	}
	meat, err := take[shop.Class](t.DB, "The class", "id = ?", a.ClassID)
	if err != nil {
		return nil, err
	}
	seal, err := t.s.sealAgainOn(t.DB, meat.OrderID)
	if err != nil {
		return nil, err
	}
	chain, err := t.chainFrom(0, seal, 0)
	if err != nil {
		return nil, err
	}
	fresh := &shop.Slab{Tag: shop.Tag(own.Code, last+1), ClassID: own.ID, Number: last + 1, SeatID: sl.SeatID, Slot: sl.Slot, State: shop.Wanted, ReadyOn: chain.Pack}
	if err := t.Create(fresh).Error; err != nil {
		return nil, err
	}
	err = changed(t.Model(&shop.Amend{}).Where("id = ? AND new_slab_id = 0", a.ID).
		Updates(map[string]any{"new_slab_id": fresh.ID, "class_id": a.ClassID, "unsold": a.Unsold, "done_at": t.now, "done_by": by.Name}), shop.ErrMoved)
	if err != nil {
		return nil, err
	}
	if err := t.note(by, "slab", int64(sl.ID), "cured again", sl.Tag, fresh.Tag, "out of the delivery of "+meat.Code); err != nil {
		return nil, err
	}
	if err := t.readyEntry(fresh); err != nil {
		return nil, err
	}
	return fresh, t.refreshCutList(meat.OrderID)
}

// sealAgainOn is the day staff can seal out of an order's delivery.
func (s *Store) sealAgainOn(db *gorm.DB, id shop.OrderID) (unit.Day, error) {
	var delivered unit.Day
	if err := db.Raw("SELECT delivery_day FROM kill_days WHERE id = (SELECT kill_day_id FROM orders WHERE id = ?)", id).Scan(&delivered).Error; err != nil {
		return 0, err
	}
	closed, err := closedForWork(db)
	if err != nil {
		return 0, err
	}
	if delivered >= s.Today() {
		return nextWorkday(delivered, closed), nil
	}
	return nextWorkday(s.Today()-1, closed), nil
}

// slabsAgain are the slabs that take a dumped one's place out of a class's delivery.
func slabsAgain(db *gorm.DB, class shop.ClassID) ([]shop.Slab, error) {
	return many[shop.Slab](db, "id", "id IN (SELECT new_slab_id FROM amends WHERE class_id = ?)", class)
}

// keepNumbers keeps the tags of slabs cured again from being given twice.
func (a allocation) keepNumbers(db *gorm.DB, class shop.ClassID) error {
	var numbers []int
	err := db.Model(&shop.Slab{}).Where("class_id = ? AND id IN (SELECT new_slab_id FROM amends)", class).Pluck("number", &numbers).Error
	for _, n := range numbers {
		a.numbers[class][n] = true
	}
	return err
}

// serveAgain puts slabs that are cured again among those a class's delivery serves: after
// its guests, before what is cut for showing.
func (a allocation) serveAgain(class shop.ClassID, again []shop.Slab, at map[shop.BellyID]int) {
	var more []served
	for i := range again {
		sl := &again[i]
		r := served{want: want{SeatID: sl.SeatID, Slot: sl.Slot}, belly: -1}
		if sl.State == shop.Wanted {
			r.again = sl
		} else {
			r.slab = sl
			if j, ok := at[sl.BellyID]; ok {
				a.taken[j][sl.Piece] = true
			}
		}
		more = append(more, r)
	}
	rows := a.rows[class]
	i := slices.IndexFunc(rows, func(r served) bool { return r.Demo })
	if i < 0 {
		i = len(rows)
	}
	a.rows[class] = slices.Insert(rows, i, more...)
}

// sooner sees to it that slabs cured again get meat that is free when staff seal them,
// days before the class whose delivery gives it: where one was dealt a piece that is free
// only later (the belly of a half that a clinic shows first), a guest of the class who
// can wait changes with it.
func (a allocation) sooner(s *Store, db *gorm.DB, c shop.Class, rows []served) error {
	var seal unit.Day
	for i := range rows {
		r := &rows[i]
		if r.again == nil || r.belly < 0 {
			continue
		}
		if seal == 0 {
			var err error
			if seal, err = s.sealAgainOn(db, c.OrderID); err != nil {
				return err
			}
		}
		if a.bellies[r.belly].From() <= seal {
			continue
		}
		for j := range rows {
			g := &rows[j]
			if g.slab == nil && g.again == nil && g.belly >= 0 && a.bellies[g.belly].From() <= seal {
				r.belly, g.belly, r.piece, g.piece = g.belly, r.belly, g.piece, r.piece
				break
			}
		}
	}
	return nil
}

// comingAgain are the slabs the owner has said yes to that are not sealed yet.
func (s *Store) comingAgain(db *gorm.DB) ([]smoke.Coming, error) {
	var rows []struct {
		shop.Slab
		OrderID shop.OrderID
		BNumber int
		Low     bool
	}
	err := db.Raw(`SELECT slabs.*, classes.order_id, bookings.number AS b_number, coalesce(jars.allergens, '') <> '' AS low
		FROM amends JOIN slabs ON slabs.id = amends.new_slab_id JOIN classes ON classes.id = amends.class_id JOIN bookings ON bookings.id = amends.booking_id
		LEFT JOIN picks ON picks.seat_id = slabs.seat_id AND picks.slot = slabs.slot LEFT JOIN jars ON jars.id = picks.jar_id
		WHERE slabs.state IN ? ORDER BY slabs.id`, []shop.SlabState{shop.Wanted, shop.Cut, shop.Kitted}).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	var out []smoke.Coming
	for _, r := range rows {
		seal, err := s.sealAgainOn(db, r.OrderID)
		if err != nil {
			return nil, err
		}
		c := s.comeAgain(r.Tag+"/1", shop.Ref(r.BNumber), seal, r.Low)
		c.Promise = r.ReadyOn
		out = append(out, c)
	}
	return out, nil
}

func (s *Store) comeAgain(tag, party string, seal unit.Day, low bool) smoke.Coming {
	return smoke.Coming{Slab: smoke.Slab{Tag: tag, Party: party, Sealed: seal, Earliest: seal + unit.Day(s.Rules.CureDays), Latest: seal + unit.Day(s.Rules.LatestDay), Allergen: low}}
}
