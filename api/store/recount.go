package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// Recount is the meat of a delivery against the slabs its classes want.
type Recount struct {
	Slabs   int // to be had
	Wanted  int // seats held and firm, second slabs, demos
	Short   int
	Over    int // to be had and not wanted
	Bellies []BellyLine
	Classes []ClassShare
	Ways    []WayOut     // only when short
	Leaves  carcass.Left // to sell besides bellies
	Worth   unit.Money   // by the value list
	plan    allocation
}

// ClassShare is what one bacon class wants and gets of a delivery.
type ClassShare struct {
	ClassID shop.ClassID
	Code    string
	Title   string
	Starts  unit.Instant
	Wanted  int
	Demos   int
	Gets    int
	Short   int
	Unfed   int // seats still on sale that this delivery has no slab for
}

// WayOut is one way out of a shortage and what pressing it acts on.
type WayOut struct {
	demand.Way
	Act   string // "skin", "demo", "thaw", or "" when a person must go and talk
	Belly shop.BellyID
	Class shop.ClassID
}

// Recount counts an order's delivery against what is wanted, as it stands now. Before
// the delivery it has no bellies to count.
func (s *Store) Recount(ctx context.Context, id shop.OrderID) (*Recount, error) {
	db := s.read(ctx)
	o, err := take[shop.Order](db, "The order", "id = ?", id)
	if err != nil {
		return nil, err
	}
	return s.recount(db, o)
}

func (s *Store) recount(db *gorm.DB, o *shop.Order) (*Recount, error) {
	calls, err := s.meatCalls(db, "order_id = ?", o.ID)
	if err != nil {
		return nil, err
	}
	y, err := yieldOf(db, o.FarmID, o.Species)
	if err != nil {
		return nil, err
	}
	own, err := s.bellies(db, o.ID, "a.order_id = ? AND a.condemned = ? AND a.delivery_id <> 0 ORDER BY a.number, s.which", o.ID, false)
	if err != nil {
		return nil, err
	}
	thawed, err := s.bellies(db, o.ID, `a.order_id <> ? AND cb.purpose = 'slabs' AND cb.class_id IN (SELECT id FROM classes WHERE order_id = ?)
		ORDER BY b.id`, o.ID, o.ID)
	if err != nil {
		return nil, err
	}
	return s.recountOf(db, o, y, calls, append(own, thawed...))
}

// recountOf counts bellies, delivered or to be expected, against what is wanted.
func (s *Store) recountOf(db *gorm.DB, o *shop.Order, y farmYield, calls []meatCall, bellies []BellyLine) (*Recount, error) {
	r := &Recount{Bellies: bellies}
	var err error
	if r.plan, err = s.allocate(db, calls, r.Bellies); err != nil {
		return nil, err
	}
	r.plan.show(r)
	if err := s.leavesOf(db, o, y, r); err != nil {
		return nil, err
	}
	if r.Short > 0 {
		err = s.waysOut(db, y, calls, r)
	}
	return r, err
}

// leavesOf reckons what the animals leave to sell: by the scale once delivered, by the
// usual weight before.
func (s *Store) leavesOf(db *gorm.DB, o *shop.Order, y farmYield, r *Recount) error {
	var colds []unit.Weight
	err := db.Raw(`SELECT s.cold FROM sides s JOIN animals a ON a.id = s.animal_id WHERE a.order_id = ? AND a.condemned = ? ORDER BY a.number, s.which`, o.ID, false).Scan(&colds).Error
	if err != nil {
		return err
	}
	if len(colds) == 0 {
		n := o.Animals
		switch o.State {
		case shop.Promised, shop.SlotHeld:
			n = o.Promised
		case shop.Killed:
			var good int64
			if err := db.Model(&shop.Animal{}).Where("order_id = ? AND condemned = ?", o.ID, false).Count(&good).Error; err != nil {
				return err
			}
			n = int(good)
		}
		colds = y.Profile.ForecastSides(2 * n)
	}
	r.Leaves = y.Profile.Leaves(colds)
	r.Worth = s.Rules.Worth(r.Leaves.Cuts)
	return nil
}

// waysOut lists the ways out of a shortage (R18) with what each gives.
func (s *Store) waysOut(db *gorm.DB, y farmYield, calls []meatCall, r *Recount) error {
	sh := demand.Shortage{Profile: y.Profile, Rule: s.Rules.SlabRule(), Now: s.Now(), Wanted: r.plan.open}
	belly := map[string]shop.BellyID{}
	for i, b := range r.Bellies {
		if !b.Usable() {
			continue
		}
		if b.Moved > 0 { // begun: it gives what is left of it, as it is
			sh.Wanted -= r.plan.free[i] + r.plan.given[i]
			continue
		}
		belly[b.Tag] = b.BellyID
		sh.Sides = append(sh.Sides, carcass.Side{Tag: b.Tag, Cold: b.Cold, Belly: b.Weight, Skin: shop.Skin(b.SkinOn)})
	}
	var first shop.ClassID
	for _, m := range calls {
		if m.Call.Unit != demand.Belly || m.Call.Seats.Sold == 0 {
			continue
		}
		if first == 0 {
			first, sh.Start = m.Class.ID, m.Class.StartsAt
		}
		sh.Demos += m.Class.DemoSlabs
	}
	frozen, err := s.bellies(db, 0, "cb.purpose = 'freezer' ORDER BY b.id")
	if err != nil {
		return err
	}
	for _, b := range frozen {
		tag := fmt.Sprintf("frozen belly, %s", b.Weight.LB())
		if _, twice := belly[tag]; twice {
			tag = fmt.Sprintf("%s, no. %d", tag, b.BellyID)
		}
		belly[tag] = b.BellyID
		sh.Frozen = append(sh.Frozen, demand.Frozen{Tag: tag, Weight: b.Weight, Skin: shop.Skin(b.SkinOn)})
	}
	for _, w := range sh.Recount().Ways {
		way := WayOut{Way: w}
		switch w.Remedy {
		case demand.DropDemo:
			way.Act = "demo"
		case demand.LeaveSkin:
			way.Belly = belly[w.What]
			if w.Gain > 0 {
				way.Act = "skin"
			}
		case demand.Thaw:
			way.Belly, way.Class = belly[w.What], first
			if w.Gain > 0 {
				way.Act = "thaw"
			}
		}
		r.Ways = append(r.Ways, way)
	}
	return nil
}
