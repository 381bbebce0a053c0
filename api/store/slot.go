package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
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

// floorOpen is a condition on slots: no closure of the plant stands over the day.
const floorOpen = `NOT EXISTS (SELECT 1 FROM plant_closures c JOIN kill_days k ON k.plant_id = c.plant_id
	WHERE k.id = slots.kill_day_id AND k.day BETWEEN c.from_day AND c.to_day
	AND (c.species = '' OR ',' || c.species || ',' LIKE '%,' || slots.species || ',%'))`

// takeSlots makes an order hold places for so many animals: more are taken if there are
// enough and the floor is open, those it does not need are given back. The database
// decides. The order's own column is set in the same breath.
func (t tx) takeSlots(o *shop.Order, want int) (bool, error) {
	if _, err := t.slot(o); err != nil {
		return false, err
	}
	more := want - o.Slots
	if more <= 0 {
		return true, t.freeSlots(o, -more)
	}
	res := t.Model(&shop.Slot{}).Where("kill_day_id = ? AND species = ? AND taken + ? <= capacity AND "+floorOpen, o.KillDayID, o.Species, more).
		Update("taken", gorm.Expr("taken + ?", more))
	if res.Error != nil || res.RowsAffected != 1 {
		return false, res.Error
	}
	return true, t.setSlots(o, want)
}

// freeSlots gives places back.
func (t tx) freeSlots(o *shop.Order, n int) error {
	if n == 0 {
		return nil
	}
	res := t.Model(&shop.Slot{}).Where("kill_day_id = ? AND species = ? AND taken >= ?", o.KillDayID, o.Species, n).
		Update("taken", gorm.Expr("taken - ?", n))
	if err := changed(res, fmt.Errorf("slots of %s: %d are not taken", o.Ref(), n)); err != nil {
		return err
	}
	return t.setSlots(o, o.Slots-n)
}

func (t tx) setSlots(o *shop.Order, n int) error {
	res := t.Model(&shop.Order{}).Where("id = ? AND slots = ?", o.ID, o.Slots).Update("slots", n)
	o.Slots = n
	return changed(res, shop.ErrMoved)
}

// whyNoSlot says why an order cannot have places on its day, or nil.
func (t tx) whyNoSlot(o *shop.Order, want int) error {
	kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return err
	}
	closures, err := many[shop.PlantClosure](t.DB, "from_day, id", "plant_id = ?", kd.PlantID)
	if err != nil {
		return err
	}
	for _, c := range closures {
		if c.Stops(kd.Day, o.Species) {
			return shop.Stop("floor_closed", "The plant does not kill %s on %s: %s. Places of that day cannot be used.", o.Species, kd.Day.Show(), c.Reason)
		}
	}
	slot, err := t.slot(o)
	if err != nil {
		return err
	}
	if left := slot.Capacity - slot.Taken + o.Slots; left < want {
		return shop.Stop("no_slot", "%d of %d slots are left on %s, and %s are asked for.", left, slot.Capacity, kd.Day.Show(), shop.AnimalsIn(o.Species, want))
	}
	return nil
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
		ok, err := t.takeSlots(o, o.Promised)
		if err != nil {
			return err
		}
		if !ok {
			if err := t.whyNoSlot(o, o.Promised); err != nil {
				return err
			}
			return shop.Stop("no_slot", "There are not %d slots left that day. Ask the plant, or call another order of that day off.", o.Promised)
		}
		return t.moveOrder(by, o, shop.SlotHeld, "", nil)
	})
}

// SetCapacity writes down that the plant gives us more or fewer places on a kill day.
func (s *Store) SetCapacity(ctx context.Context, by shop.Actor, killDay shop.KillDayID, species string, capacity int) error {
	return s.tx(ctx, func(t tx) error {
		if _, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", killDay); err != nil {
			return err
		}
		return t.setCapacity(by, killDay, species, capacity)
	})
}

// SetPlaces is SetCapacity for a kill day named by its date, also one nothing is planned
// for yet.
func (s *Store) SetPlaces(ctx context.Context, by shop.Actor, day unit.Day, species string, capacity int) error {
	return s.tx(ctx, func(t tx) error {
		book, err := s.openBook(t.DB, 0)
		if err != nil {
			return err
		}
		if !book.killsOn(day) {
			return shop.Bad("kill_day", "%s does not kill on %s.", book.Plant.Name, day.Show())
		}
		if day <= t.today {
			return shop.Stop("kill_past", "The kill of %s has been.", day.Show())
		}
		if !book.knows(species) {
			return shop.Bad("species", "No class here needs %q.", species)
		}
		kd, err := t.killDay(book.Plant.ID, day, book.delivers(day))
		if err != nil {
			return err
		}
		return t.setCapacity(by, kd.ID, species, capacity)
	})
}

func (t tx) setCapacity(by shop.Actor, killDay shop.KillDayID, species string, capacity int) error {
	if capacity < 0 || capacity > 500 {
		var w shop.Wrong
		w.Add("capacity", "Between 0 and 500 places.")
		return w.Err()
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
}
