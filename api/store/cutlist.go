package store

import (
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// MakeCutList makes or brings up to date the slabs of an order's classes: tag, whose,
// which belly and piece, planned weight, skin. Only slabs still wanted are touched:
// what is cut keeps its tag, weight and belly. Made twice it changes nothing.
func (s *Store) MakeCutList(ctx context.Context, by shop.Actor, id shop.OrderID) (*CutList, error) {
	var l *CutList
	err := s.tx(ctx, func(t tx) error {
		o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
		if err != nil {
			return err
		}
		if o.State != shop.Delivered && o.State != shop.Settled {
			return shop.Stop("not_delivered", "%s is not delivered: there is nothing to cut.", o.Ref())
		}
		n, err := t.cutList(by, o)
		if err != nil {
			return err
		}
		if n > 0 {
			if err := t.note(by, "order", int64(o.ID), "cut list", "", "", fmt.Sprintf("%d slabs", n)); err != nil {
				return err
			}
		}
		l, err = s.cutListOf(t.DB, o)
		return err
	})
	if err != nil {
		return nil, err
	}
	return l, nil
}

// refreshCutList makes an order's cut list anew if it has been made at all.
func (t tx) refreshCutList(id shop.OrderID) error {
	if id == 0 {
		return nil
	}
	o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
	if err != nil || o.State != shop.Delivered && o.State != shop.Settled {
		return err
	}
	var n int64
	if err := t.Model(&shop.Slab{}).Where("class_id IN (SELECT id FROM classes WHERE order_id = ?)", id).Count(&n).Error; err != nil || n == 0 {
		return err
	}
	_, err = t.cutList(shop.Itself(), o)
	return err
}

// seatsChanged brings the meat into line after seats of a class were sold, let go or
// moved: slabs of its cut list follow at once. Slabs already cut for a seat that is
// gone become the shop's own.
func (t tx) seatsChanged(class shop.ClassID) error {
	c, err := take[shop.Class](t.DB, "The class", "id = ?", class)
	if err != nil {
		return err
	}
	return t.refreshCutList(c.OrderID)
}

// cutList writes the allocation down and says how many rows it changed.
func (t tx) cutList(by shop.Actor, o *shop.Order) (int, error) {
	var ids []shop.ClassID
	if err := t.Model(&shop.Class{}).Where("order_id = ?", o.ID).Order("id").Pluck("id", &ids).Error; err != nil {
		return 0, err
	}
	for _, id := range ids { // their seats stand still until this is done
		if err := t.Exec("UPDATE classes SET revision = revision + 1 WHERE id = ?", id).Error; err != nil {
			return 0, err
		}
	}
	r, err := t.s.recount(t.DB, o)
	if err != nil {
		return 0, err
	}
	var fresh []shop.Slab
	old := map[string]shop.Slab{}
	for _, m := range r.plan.calls {
		rows, err := many[shop.Slab](t.DB, "number", `state = ? AND (class_id = ? AND id NOT IN (SELECT new_slab_id FROM amends)
			OR id IN (SELECT new_slab_id FROM amends WHERE class_id = ?))`, shop.Wanted, m.Class.ID, m.Class.ID)
		if err != nil {
			return 0, err
		}
		for _, sl := range rows {
			old[sl.Tag] = sl
		}
		fresh = append(fresh, r.plan.tag(m.Class)...)
		if err := t.freeSpare(r.plan.spare[m.Class.ID]); err != nil {
			return 0, err
		}
	}
	n, err := t.writeSlabs(old, fresh)
	if err != nil {
		return 0, err
	}
	for _, m := range r.plan.calls {
		for _, row := range r.plan.rows[m.Class.ID] {
			if !row.adopt {
				continue
			}
			res := t.Model(&shop.Slab{}).Where("id = ? AND seat_id = 0 AND state = ?", row.slab.ID, row.slab.State).
				Updates(map[string]any{"seat_id": row.SeatID, "slot": row.Slot, "revision": gorm.Expr("revision + 1")})
			if err := changed(res, shop.ErrMoved); err != nil {
				return 0, err
			}
			n++
		}
	}
	return n, t.claimBellies(by, o, r)
}

// tag gives the wants of a class that have no slab yet the numbers that are free, in
// order.
func (a allocation) tag(c shop.Class) []shop.Slab {
	used := a.numbers[c.ID]
	var out []shop.Slab
	number := 0
	for _, row := range a.rows[c.ID] {
		if row.slab != nil {
			continue
		}
		sl := shop.Slab{ClassID: c.ID, SeatID: row.SeatID, Slot: row.Slot, Demo: row.Demo, State: shop.Wanted}
		if row.again != nil { // it has its tag, under its own class
			sl = *row.again
			sl.BellyID, sl.Piece, sl.SkinOn, sl.Planned = 0, 0, false, 0
		} else {
			for number++; used[number]; number++ {
			}
			sl.Tag, sl.Number = shop.Tag(c.Code, number), number
		}
		if row.belly >= 0 {
			b := a.bellies[row.belly]
			sl.BellyID, sl.Piece, sl.SkinOn, sl.Planned = b.BellyID, row.piece, b.SkinOn, b.Cut.Slabs.Each
		}
		out = append(out, sl)
	}
	return out
}

// writeSlabs turns the old wanted rows into the fresh ones. Rows that change are first
// emptied, so that two may trade places.
func (t tx) writeSlabs(old map[string]shop.Slab, fresh []shop.Slab) (int, error) {
	var update, insert []shop.Slab
	var empty, gone []shop.SlabID
	for _, f := range fresh {
		was, ok := old[f.Tag]
		if !ok {
			insert = append(insert, f)
			continue
		}
		delete(old, f.Tag)
		f.ID, f.Revision, f.JarID = was.ID, was.Revision, was.JarID
		if f == was {
			continue
		}
		f.Revision++
		update, empty = append(update, f), append(empty, f.ID)
	}
	for _, was := range old {
		gone = append(gone, was.ID)
	}
	slices.Sort(gone)
	if len(empty)+len(gone) > 0 {
		res := t.Model(&shop.Slab{}).Where("id IN ? AND state = ?", append(slices.Clone(empty), gone...), shop.Wanted).
			Updates(map[string]any{"seat_id": 0, "slot": 0, "belly_id": 0, "piece": 0})
		if res.Error != nil {
			return 0, res.Error
		}
		if int(res.RowsAffected) != len(empty)+len(gone) {
			return 0, shop.ErrMoved
		}
	}
	// A slab nobody wants any more and that nothing was done to leaves no trace; one
	// with a step on record stays, as the shop's own.
	if len(gone) > 0 {
		if err := t.Where("id IN ? AND id NOT IN (SELECT slab_id FROM steps)", gone).Delete(&shop.Slab{}).Error; err != nil {
			return 0, err
		}
	}
	for _, f := range update {
		res := t.Model(&shop.Slab{}).Where("id = ? AND state = ?", f.ID, shop.Wanted).
			Updates(map[string]any{"seat_id": f.SeatID, "slot": f.Slot, "demo": f.Demo, "belly_id": f.BellyID, "piece": f.Piece,
				"skin_on": f.SkinOn, "planned": f.Planned, "revision": f.Revision})
		if err := changed(res, shop.ErrMoved); err != nil {
			return 0, err
		}
	}
	for i := range insert {
		if err := t.Create(&insert[i]).Error; err != nil {
			return 0, err
		}
	}
	return len(update) + len(insert) + len(gone), nil
}

// freeSpare makes slabs that were cut for a seat which is gone the shop's own.
func (t tx) freeSpare(spare []shop.Slab) error {
	for _, sl := range spare {
		err := t.Model(&shop.Slab{}).Where("id = ? AND seat_id = ?", sl.ID, sl.SeatID).
			Updates(map[string]any{"seat_id": 0, "revision": gorm.Expr("revision + 1")}).Error
		if err != nil {
			return err
		}
	}
	return nil
}

// CutList is what the butcher cuts by.
type CutList struct {
	Order   shop.Order
	Farm    string
	Lot     string
	Bellies []CutBelly
	Missing []CutSlab // slabs wanted that have no belly
	Total   int
}

// CutBelly is one belly and the slabs to cut from it.
type CutBelly struct {
	BellyLine
	Slabs []CutSlab
}

// CutSlab is one slab of the cut list.
type CutSlab struct {
	Tag     string
	Class   string
	Day     unit.Day
	First   string // first name of whose it is; "demo" for the shop's
	Booking string // K28
	Demo    bool
	Piece   int
	SkinOn  bool
	Planned unit.Weight
	Green   unit.Weight
	State   shop.SlabState
	BellyID shop.BellyID
}

// CutListOf reads an order's cut list.
func (s *Store) CutListOf(ctx context.Context, number int) (*CutList, error) {
	db := s.read(ctx)
	o, err := take[shop.Order](db, "The order", "number = ?", number)
	if err != nil {
		return nil, err
	}
	return s.cutListOf(db, o)
}

func (s *Store) cutListOf(db *gorm.DB, o *shop.Order) (*CutList, error) {
	l := &CutList{Order: *o}
	farm, err := take[shop.Farm](db, "The farm", "id = ?", o.FarmID)
	if err != nil {
		return nil, err
	}
	l.Farm = farm.Name
	if err := db.Raw("SELECT lot FROM deliveries WHERE order_id = ? ORDER BY id LIMIT 1", o.ID).Scan(&l.Lot).Error; err != nil {
		return nil, err
	}
	r, err := s.recount(db, o)
	if err != nil {
		return nil, err
	}
	var slabs []CutSlab
	err = db.Raw(`SELECT l.tag, c.code AS class, c.day, coalesce(g.name, '') AS first, coalesce(b.number, 0) AS booking_number, l.demo, l.piece,
			l.skin_on, l.planned, l.green, l.state, l.belly_id,
			CASE WHEN b.number IS NULL THEN '' ELSE 'K' || CASE WHEN b.number < 10 THEN '0' ELSE '' END || b.number END AS booking
		FROM slabs l JOIN classes c ON c.id = l.class_id LEFT JOIN seats s ON s.id = l.seat_id LEFT JOIN guests g ON g.id = s.guest_id
		LEFT JOIN bookings b ON b.id = s.booking_id
		WHERE l.id IN (SELECT slabs.id FROM slabs JOIN classes ON classes.id = slabs.class_id WHERE classes.order_id = ? AND slabs.id NOT IN (SELECT new_slab_id FROM amends)
			UNION ALL SELECT m.new_slab_id FROM amends m JOIN classes f ON f.id = m.class_id WHERE f.order_id = ?)
		ORDER BY l.belly_id, l.piece, c.starts_at, c.code, l.number`, o.ID, o.ID).Scan(&slabs).Error
	if err != nil {
		return nil, err
	}
	by := map[shop.BellyID][]CutSlab{}
	for _, sl := range slabs {
		if sl.Demo {
			sl.First = "demo"
		}
		if sl.BellyID == 0 {
			l.Missing = append(l.Missing, sl)
			continue
		}
		by[sl.BellyID] = append(by[sl.BellyID], sl)
	}
	l.Total = len(slabs)
	for _, b := range r.Bellies {
		l.Bellies = append(l.Bellies, CutBelly{b, by[b.BellyID]})
	}
	return l, nil
}
