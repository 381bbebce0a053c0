package store

import (
	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// mayPublish says whether cooler and smokehouse can bear a class with every seat of
// every open class taken (R32a). The refusal names the first date that breaks, the most
// seats that would fit, and the first later day of that weekday on which all would.
func (t tx) mayPublish(c *shop.Class) error {
	k, err := take[shop.ClassKind](t.DB, "The kind of class", "id = ?", c.KindID)
	if err != nil || !k.Slabs {
		return err
	}
	v, err := t.s.verdict(t.DB, *c)
	if err != nil || v.OK {
		return err
	}
	return shop.Stop("no_room", "%s.", v.Text)
}

// verdict checks a slab class against all others.
func (s *Store) verdict(db *gorm.DB, c shop.Class) (season.Verdict, error) {
	open, err := s.sittings(db, c.ID)
	if err != nil {
		return season.Verdict{}, err
	}
	closed, err := many[shop.ClosedDay](db, "day", "1 = 1")
	if err != nil {
		return season.Verdict{}, err
	}
	add := season.Sitting{Code: c.Code, Day: c.Day, Seats: c.Seats, Sold: c.SeatsTaken, Demo: c.DemoSlabs}
	return s.Rules.Curing().Publish(open, add, shop.Closed(closed)), nil
}

// sittings are the slab classes whose slabs lie or will lie in the cooler: open ones
// with their seats, taught ones with the slabs they made. The class except is left out.
func (s *Store) sittings(db *gorm.DB, except shop.ClassID) ([]season.Sitting, error) {
	horizon := s.Today() - unit.Day(s.Rules.LatestDay)
	calls, err := s.meatCalls(db, `id <> ? AND day >= ? AND state NOT IN ? AND kind_id IN (SELECT id FROM class_kinds WHERE slabs = ?)`,
		except, horizon, []shop.ClassState{shop.Sketched, shop.ClassOff}, true)
	if err != nil {
		return nil, err
	}
	var out []season.Sitting
	for _, m := range calls {
		c := m.Class
		sit := season.Sitting{Code: c.Code, Day: c.Day, Seats: c.Seats, Sold: c.SeatsTaken, Second: m.Second, Demo: c.DemoSlabs}
		if c.State == shop.Taught || c.State == shop.ClosedOut {
			var lying int64
			err := db.Model(&shop.Slab{}).Where("class_id = ? AND state NOT IN ?", c.ID, []shop.SlabState{shop.Dumped, shop.Replaced, shop.GivenUp}).Count(&lying).Error
			if err != nil {
				return nil, err
			}
			sit = season.Sitting{Code: c.Code, Day: c.Day, Seats: int(lying), Sold: int(lying)}
		}
		out = append(out, sit)
	}
	return out, nil
}
