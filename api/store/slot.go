package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"flitchbook/api/shop"
)

// slot finds or makes the stock of places on an order's kill day.
func (t tx) slot(o *shop.Order) (*shop.Slot, error) {
	row := shop.Slot{KillDayID: o.KillDayID, Species: o.Species, Capacity: t.s.Rules.SlotCapacity(o.Species)}
	err := t.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "kill_day_id"}, {Name: "species"}}, DoNothing: true}).Create(&row).Error
	if err != nil {
		return nil, err
	}
	return take[shop.Slot](t.DB, "The slot", "kill_day_id = ? AND species = ?", o.KillDayID, o.Species)
}

// takeSlot takes places for a promised order if there are enough; the database decides.
func (t tx) takeSlot(o *shop.Order) (bool, error) {
	if _, err := t.slot(o); err != nil {
		return false, err
	}
	res := t.Model(&shop.Slot{}).Where("kill_day_id = ? AND species = ? AND taken + ? <= capacity", o.KillDayID, o.Species, o.Promised).
		Update("taken", gorm.Expr("taken + ?", o.Promised))
	return res.RowsAffected == 1, res.Error
}

func (t tx) freeSlot(o *shop.Order, n int) error {
	res := t.Model(&shop.Slot{}).Where("kill_day_id = ? AND species = ? AND taken >= ?", o.KillDayID, o.Species, n).
		Update("taken", gorm.Expr("taken - ?", n))
	return changed(res, fmt.Errorf("slots of %s: %d are not taken", o.Ref(), n))
}

// HoldSlot tries again to hold the slots of an order that the farm has promised.
func (s *Store) HoldSlot(ctx context.Context, by shop.Actor, id shop.OrderID) error {
	return s.tx(ctx, func(t tx) error {
		o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
		if err != nil {
			return err
		}
		if err := shop.OrderMoves.Check(o.State, shop.SlotHeld); err != nil {
			return err
		}
		ok, err := t.takeSlot(o)
		if err != nil {
			return err
		}
		if !ok {
			return shop.Stop("no_slot", "There are not %d slots left that day. Ask the plant, or call another order of that day off.", o.Promised)
		}
		return t.moveOrder(by, o, shop.SlotHeld, "", nil)
	})
}

// SetCapacity writes down that the plant gives us more or fewer places on a kill day.
func (s *Store) SetCapacity(ctx context.Context, by shop.Actor, killDay shop.KillDayID, species string, capacity int) error {
	if capacity < 0 || capacity > 500 {
		var w shop.Wrong
		w.Add("capacity", "Between 0 and 500 places.")
		return w.Err()
	}
	return s.tx(ctx, func(t tx) error {
		if _, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", killDay); err != nil {
			return err
		}
		old, err := t.slot(&shop.Order{KillDayID: killDay, Species: species})
		if err != nil {
			return err
		}
		res := t.Model(&shop.Slot{}).Where("id = ? AND taken <= ?", old.ID, capacity).Update("capacity", capacity)
		if err := changed(res, shop.Stop("slots_taken", "%d places of that day are held already.", old.Taken)); err != nil {
			return err
		}
		return t.note(by, "kill day", int64(killDay), "places", fmt.Sprint(old.Capacity), fmt.Sprint(capacity), species)
	})
}
