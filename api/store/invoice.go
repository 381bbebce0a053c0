package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/inspection"
	"flitchbook/planner/invoice"
	"flitchbook/planner/unit"
)

// ThreeWay is an order's asked, hung and invoiced side by side.
type ThreeWay struct {
	Order shop.Order
	Farm  shop.Farm
	Plant shop.Plant
	Kill  unit.Day
	Slip  invoice.Slip
	Bills []BillCheck    // the last of each party, the farm's first; none yet: none
	Past  []shop.Invoice // all that were typed, the newest first
	Keep  unit.Day       // last day the papers are to be kept; 0 before a bill or a delivery
}

// BillCheck is a bill held against the slip.
type BillCheck struct {
	shop.Invoice
	Result invoice.Result
}

// TypeInvoice writes a bill down as it is printed. One typed before for the same party
// stays on record; the last counts.
func (s *Store) TypeInvoice(ctx context.Context, by shop.Actor, id shop.OrderID, i shop.Invoice) error {
	if err := i.Check(); err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
		if err != nil {
			return err
		}
		switch o.State {
		case shop.Killed, shop.Delivered, shop.Settled:
		default:
			return shop.Stop("not_killed", "%s is %s: nothing has hung that could be billed.", o.Ref(), o.State)
		}
		i.ID, i.OrderID, i.TypedAt, i.TypedBy = 0, id, t.now, by.Name
		i.Number, i.OtherWords = trim(i.Number), trim(i.OtherWords)
		last, err := lastInvoice(t.DB, id, i.Party)
		if err != nil {
			return err
		}
		was := ""
		if last != nil {
			was = last.TotalCents.String()
			same := *last
			same.ID, same.TypedAt, same.TypedBy = 0, i.TypedAt, i.TypedBy
			if same == i {
				return nil // typed twice
			}
		}
		if err := t.Create(&i).Error; err != nil {
			return err
		}
		return t.note(by, "order", int64(id), string(i.Party)+"'s bill", was, i.TotalCents.String(), i.Number)
	})
}

func lastInvoice(db *gorm.DB, id shop.OrderID, p shop.Biller) (*shop.Invoice, error) {
	rows, err := many[shop.Invoice](db.Limit(1), "id DESC", "order_id = ? AND party = ?", id, p)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return &rows[0], nil
}

// ThreeWay holds an order's bills against what was asked and what hung.
func (s *Store) ThreeWay(ctx context.Context, number int) (*ThreeWay, error) {
	db := s.read(ctx)
	o, err := take[shop.Order](db, "The order", "number = ?", number)
	if err != nil {
		return nil, err
	}
	v := &ThreeWay{Order: *o}
	kd, err := take[shop.KillDay](db, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return nil, err
	}
	v.Kill = kd.Day
	plant, err := take[shop.Plant](db, "The slaughterhouse", "id = ?", kd.PlantID)
	if err != nil {
		return nil, err
	}
	if v.Slip, err = s.slipOf(db, o); err != nil {
		return nil, err
	}
	farm, err := take[shop.Farm](db, "The farm", "id = ?", o.FarmID)
	if err != nil {
		return nil, err
	}
	v.Farm, v.Plant = *farm, *plant
	if v.Past, err = many[shop.Invoice](db, "id DESC", "order_id = ?", o.ID); err != nil {
		return nil, err
	}
	for _, p := range []shop.Biller{shop.FarmBills, shop.PlantBills} {
		for _, i := range v.Past {
			if i.Party != p {
				continue
			}
			b := BillCheck{Invoice: i}
			if p == shop.FarmBills {
				b.Result = v.Slip.CheckFarm(i.Farm())
			} else {
				b.Result = v.Slip.CheckPlant(i.Plant())
			}
			v.Bills = append(v.Bills, b)
			break
		}
	}
	var day unit.Day
	if err := db.Raw("SELECT day FROM deliveries WHERE order_id = ? ORDER BY id LIMIT 1", o.ID).Scan(&day).Error; err != nil {
		return nil, err
	}
	for _, i := range v.Past {
		day = max(day, i.TypedAt.Day(s.Loc))
	}
	if day != 0 {
		v.Keep = inspection.KeepPurchase(day)
	}
	return v, nil
}

// slipOf is an order as its bills are held against it.
func (s *Store) slipOf(db *gorm.DB, o *shop.Order) (invoice.Slip, error) {
	y, err := yieldOf(db, o.FarmID, o.Species)
	if err != nil {
		return invoice.Slip{}, err
	}
	animals, err := many[shop.Animal](db, "number", "order_id = ?", o.ID)
	if err != nil {
		return invoice.Slip{}, err
	}
	var cold unit.Weight
	err = db.Raw(`SELECT coalesce(sum(s.cold), 0) FROM sides s JOIN animals a ON a.id = s.animal_id WHERE a.order_id = ? AND a.condemned = ?`, o.ID, false).Scan(&cold).Error
	if err != nil {
		return invoice.Slip{}, fmt.Errorf("cold weight of %s: %w", o.Ref(), err)
	}
	return o.Slip(s.Rules, animals, cold, y.Row.HCW, y.Row.Shrink), nil
}
