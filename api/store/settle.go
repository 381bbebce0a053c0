package store

import (
	"context"
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// Bills are what the farm and the plant ask for.
type Bills struct {
	Farm  unit.Money // meat and haul
	Plant unit.Money
	Note  string // needed when they differ from the slip
}

// SettleOrder closes a delivered order when its bills are paid. Bills that differ from
// the slip need a word on why: hot or cold weight, a fee nobody spoke of.
func (s *Store) SettleOrder(ctx context.Context, by shop.Actor, id shop.OrderID, b Bills) error {
	return s.tx(ctx, func(t tx) error {
		o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
		if err != nil {
			return err
		}
		if err := shop.OrderMoves.Check(o.State, shop.Settled); err != nil {
			return err
		}
		animals, err := many[shop.Animal](t.DB, "number", "order_id = ?", id)
		if err != nil {
			return err
		}
		m := o.Money(animals, 0)
		var w shop.Wrong
		if b.Farm < 0 {
			w.Add("farm", "A bill cannot be below zero.")
		}
		if b.Plant < 0 {
			w.Add("plant", "A bill cannot be below zero.")
		}
		if (b.Farm != m.Farm+m.Haul || b.Plant != m.Plant) && trim(b.Note) == "" {
			w.Add("note", "The slip says %s to the farm and %s to the plant: write down why the bills differ.", m.Farm+m.Haul, m.Plant)
		}
		if err := w.Err(); err != nil {
			return err
		}
		if err := t.billsPaid(by, o, b); err != nil {
			return err
		}
		return t.moveOrder(by, o, shop.Settled, fmt.Sprintf("farm %s of %s, plant %s of %s. %s", b.Farm, m.Farm+m.Haul, b.Plant, m.Plant, trim(b.Note)), nil)
	})
}
