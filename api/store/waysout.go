package store

import (
	"context"
	"fmt"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// DropDemo gives up n of a class's slabs for showing (R18a). No guest is touched.
func (s *Store) DropDemo(ctx context.Context, by shop.Actor, class shop.ClassID, n int) error {
	return s.tx(ctx, func(t tx) error { return t.dropDemo(by, class, n) })
}

// DropDemos gives up every demo slab of the classes an order feeds.
func (s *Store) DropDemos(ctx context.Context, by shop.Actor, id shop.OrderID) error {
	return s.tx(ctx, func(t tx) error {
		classes, err := many[shop.Class](t.DB, "id", "order_id = ? AND demo_slabs > 0", id)
		if err != nil {
			return err
		}
		for _, c := range classes {
			if err := t.dropDemo(by, c.ID, c.DemoSlabs); err != nil {
				return err
			}
		}
		return nil
	})
}

func (t tx) dropDemo(by shop.Actor, class shop.ClassID, n int) error {
	if n < 1 {
		return shop.Bad("demo", "Say how many demo slabs to give up.")
	}
	c, err := take[shop.Class](t.DB, "The class", "id = ?", class)
	if err != nil {
		return err
	}
	var cut int64
	err = t.Model(&shop.Slab{}).Where("class_id = ? AND demo = ? AND state <> ?", class, true, shop.Wanted).Count(&cut).Error
	if err != nil {
		return err
	}
	res := t.Model(&shop.Class{}).Where("id = ? AND demo_slabs >= ?", class, n+int(cut)).
		Updates(map[string]any{"demo_slabs": gorm.Expr("demo_slabs - ?", n), "revision": gorm.Expr("revision + 1")})
	if err := changed(res, shop.Stop("no_demo", "%s has no %d demo slabs left to give up.", c.Code, n)); err != nil {
		return err
	}
	if err := t.note(by, "class", int64(class), "demo slabs given up", fmt.Sprint(c.DemoSlabs), fmt.Sprint(c.DemoSlabs-n), ""); err != nil {
		return err
	}
	return t.refreshCutList(c.OrderID)
}

// TakeUnsold takes n unsold seats of a class off sale, because there is no slab for them
// or their slabs go elsewhere (R18c). A seat somebody holds is never touched.
func (s *Store) TakeUnsold(ctx context.Context, by shop.Actor, class shop.ClassID, n int) error {
	return s.tx(ctx, func(t tx) error { return t.takeUnsold(by, class, n) })
}

func (t tx) takeUnsold(by shop.Actor, class shop.ClassID, n int) error {
	if n < 1 {
		return shop.Bad("seats", "Say how many seats come off sale.")
	}
	c, err := take[shop.Class](t.DB, "The class", "id = ?", class)
	if err != nil {
		return err
	}
	res := t.Model(&shop.Class{}).Where("id = ? AND seats - ? >= seats_taken", class, n).
		Updates(map[string]any{"seats": gorm.Expr("seats - ?", n), "revision": gorm.Expr("revision + 1")})
	if err := changed(res, shop.Stop("seats_sold", "%s has no %d unsold seats.", c.Code, n)); err != nil {
		return err
	}
	return t.note(by, "class", int64(class), "seats off sale", fmt.Sprint(c.Seats), fmt.Sprint(c.Seats-n), "")
}

// ThawBelly takes a belly out of the freezer for a class's slabs, if it thaws in time
// (R18d: 24 hours for each started 5 lb).
func (s *Store) ThawBelly(ctx context.Context, by shop.Actor, id shop.BellyID, class shop.ClassID) error {
	return s.tx(ctx, func(t tx) error { return t.thawBelly(by, id, class) })
}

func (t tx) thawBelly(by shop.Actor, id shop.BellyID, class shop.ClassID) error {
	b, err := t.bellyLine(id)
	if err != nil {
		return err
	}
	if b.Purpose != "freezer" {
		return shop.Stop("not_frozen", "%s is not in the freezer.", b.Tag)
	}
	c, err := take[shop.Class](t.DB, "The class", "id = ?", class)
	if err != nil {
		return err
	}
	steps := demand.ThawSteps(b.Weight, 5*unit.Pound)
	if ready := t.now.Add(time.Duration(24*steps) * time.Hour); ready > c.StartsAt {
		return shop.Stop("thaw", "%s needs %d hours to thaw and would be ready %s; %s begins %s.", b.Weight.LB(), 24*steps, ready.Show(t.s.Loc), c.Code, c.StartsAt.Show(t.s.Loc))
	}
	if err := t.claim(by, "belly", int64(id), "slabs", *c); err != nil {
		return err
	}
	return t.refreshCutList(c.OrderID)
}

// SpareMeat lists where n more slabs could come from besides what is promised: slabs
// nobody claims, then unsold seats, the latest class first (R18c). It looks at classes
// ahead whose meat is ordered or planned.
func (s *Store) SpareMeat(ctx context.Context, n int) ([]demand.Way, error) {
	return s.spareMeat(s.read(ctx), n)
}

func (s *Store) spareMeat(db *gorm.DB, n int) ([]demand.Way, error) {
	calls, err := s.meatCalls(db, "starts_at > ? AND (order_id <> 0 OR kill_day_id <> 0)", s.Now())
	if err != nil {
		return nil, err
	}
	sh := demand.Shortage{Rule: s.Rules.SlabRule(), Wanted: n}
	for _, g := range groupCalls(calls, func(m meatCall) string { return fmt.Sprint(m.Class.OrderID, "/", m.Class.KillDayID, m.Kind.Species) }) {
		var slabs, wanted int
		for _, m := range g {
			if m.Call.Unit == demand.Belly {
				wanted += m.Call.Seats.Full + m.Call.Second + m.Call.Demo
				if left := m.Class.Left(); left > 0 {
					sh.Unsold = append(sh.Unsold, demand.Unsold{Code: m.Class.Code, Start: m.Class.StartsAt, Seats: left})
				}
			}
		}
		if wanted == 0 {
			continue
		}
		if slabs, err = s.slabsAhead(db, g); err != nil {
			return nil, err
		}
		sh.Free += max(slabs-wanted, 0)
	}
	var ways []demand.Way
	for _, w := range sh.Recount().Ways {
		if w.Gain > 0 {
			ways = append(ways, w)
		}
	}
	return ways, nil
}

// slabsAhead is how many slabs a group's order gives: counted once delivered, by the
// usual weight before, by a full house's need while nothing is ordered.
func (s *Store) slabsAhead(db *gorm.DB, g []meatCall) (int, error) {
	if g[0].Class.OrderID == 0 {
		y, err := yieldOf(db, 0, g[0].Kind.Species)
		if err != nil {
			return 0, err
		}
		_, p, err := s.reckon(y, g)
		return p.Full.Slabs + p.Full.SlabsOver, err
	}
	o, err := take[shop.Order](db, "The order", "id = ?", g[0].Class.OrderID)
	if err != nil {
		return 0, err
	}
	if o.State == shop.Delivered || o.State == shop.Settled {
		r, err := s.recount(db, o)
		if err != nil {
			return 0, err
		}
		return r.Slabs, nil
	}
	y, err := yieldOf(db, o.FarmID, o.Species)
	if err != nil {
		return 0, err
	}
	n := o.Animals
	if o.AnsweredAt != 0 {
		n = o.Promised
	}
	return 2 * n * y.Profile.PerBelly(s.Rules.SlabRule(), 0).Slabs.Count, nil
}
