package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/table"
	"flitchbook/planner/unit"
)

// DinnerMeat is what a dinner needs and which lots it may come from (R22).
type DinnerMeat struct {
	Dinner  Dinner
	Species string
	Roasts  []table.Roast // the species' own first
	Buy     *table.Purchase
	Lots    []DinnerLot // earlier lots in the house, the newest first; the first that has enough is proposed
	Chosen  string      // lot the kitchen has settled on
	NotFrom []string    // the class's own
}

// DinnerLot is meat of an earlier delivery.
type DinnerLot struct {
	Lot      string
	Farm     string
	Species  string
	Day      unit.Day    // delivered
	Cut      string      // the roast's cut
	Weight   unit.Weight // of that cut, in sides no class holds; 0 when nobody knows
	Enough   bool
	Proposed bool
}

// DinnerMeat reckons the meat of a dinner for the heads that come, everybody counted who
// may yet come. roast "" is the species' own; portion 0 the house's.
func (s *Store) DinnerMeat(ctx context.Context, code, roast string, portion unit.Weight) (*DinnerMeat, error) {
	db := s.read(ctx)
	sheet, err := s.TableSheet(ctx, code)
	if err != nil {
		return nil, err
	}
	c, err := take[shop.Class](db, "The class", "code = ?", sheet.Code)
	if err != nil {
		return nil, err
	}
	k, err := take[shop.ClassKind](db, "The kind of class", "id = ?", c.KindID)
	if err != nil {
		return nil, err
	}
	d := &DinnerMeat{Dinner: sheet.Dinner, Species: k.Species, Roasts: table.RoastsFor(k.Species), NotFrom: sheet.NotFrom}
	r, err := pickRoast(d.Roasts, roast)
	if err != nil {
		return nil, err
	}
	if portion == 0 {
		portion = s.Rules.DinnerPortion
	}
	buy, err := r.Buy(sheet.All.Heads, portion)
	if err != nil {
		var w shop.Wrong
		w.Add("portion", "Write how much cooked meat a head, such as 6 oz.")
		return nil, w.Err()
	}
	d.Buy = &buy
	err = db.Raw(`SELECT d.lot FROM dinner_meats m JOIN deliveries d ON d.id = m.delivery_id WHERE m.class_id = ? AND m.ended_at = 0`, c.ID).Scan(&d.Chosen).Error
	if err != nil {
		return nil, err
	}
	d.Lots, err = s.dinnerLots(db, c, buy)
	return d, err
}

func pickRoast(all []table.Roast, name string) (table.Roast, error) {
	for _, r := range all {
		if name == "" || r.Name == name {
			return r, nil
		}
	}
	var w shop.Wrong
	w.Add("roast", "Choose one of the roasts.")
	return table.Roast{}, w.Err()
}

// dinnerLots lists what is in the house from earlier deliveries of the roast's species.
func (s *Store) dinnerLots(db *gorm.DB, c *shop.Class, buy table.Purchase) ([]DinnerLot, error) {
	var rows []struct {
		ID      shop.DeliveryID
		OrderID shop.OrderID
		FarmID  shop.FarmID
		Lot     string
		Farm    string
		Species string
		Day     unit.Day
	}
	err := db.Raw(`SELECT d.id, d.order_id, o.farm_id, d.lot, f.name AS farm, o.species, d.day FROM deliveries d
		JOIN orders o ON o.id = d.order_id JOIN farms f ON f.id = o.farm_id
		WHERE o.species = ? AND d.order_id <> ? AND d.day < ? ORDER BY d.day DESC, d.id DESC LIMIT 8`, buy.Species, c.OrderID, c.Day).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("lots for the dinner of %s: %w", c.Code, err)
	}
	var out []DinnerLot
	proposed := false
	for _, r := range rows {
		if s.earlier(db, r.OrderID, c) != nil {
			continue
		}
		l := DinnerLot{Lot: r.Lot, Farm: r.Farm, Species: r.Species, Day: r.Day, Cut: buy.Cut}
		if l.Weight, err = s.cutLeft(db, r.OrderID, r.FarmID, r.Species, buy.Roast); err != nil {
			return nil, err
		}
		l.Enough = l.Weight >= buy.Raw
		if l.Enough && !proposed {
			l.Proposed, proposed = true, true
		}
		out = append(out, l)
	}
	return out, nil
}

// cutLeft is how much of a roast's cut the sides of a delivery give that no class holds
// and that were not kept for something else.
func (s *Store) cutLeft(db *gorm.DB, order shop.OrderID, farm shop.FarmID, species string, r table.Roast) (unit.Weight, error) {
	y, err := yieldOf(db, farm, species)
	if err != nil {
		return 0, err
	}
	var colds []unit.Weight
	err = db.Raw(`SELECT s.cold FROM sides s JOIN animals a ON a.id = s.animal_id WHERE a.order_id = ? AND a.condemned = ?
		AND NOT EXISTS (SELECT 1 FROM claims c WHERE c.ended_at = 0 AND c.purpose NOT IN ('counter', 'slabs') AND (c.piece = 'animal' AND c.subject_id = a.id
			OR c.piece IN ('side', 'hindquarter', 'forequarter') AND c.subject_id = s.id))`, order, false).Scan(&colds).Error
	if err != nil {
		return 0, err
	}
	for _, c := range y.Profile.Leaves(colds).Cuts {
		if c.Name == r.Cut {
			return c.Weight.Share(r.OfCut), nil
		}
	}
	return 0, nil
}

// earlier refuses meat that is not of an earlier lot than the class's own (R22): the
// guests eat before they cut, and what is shown is not what was eaten.
func (s *Store) earlier(db *gorm.DB, order shop.OrderID, c *shop.Class) error {
	if order == c.OrderID && order != 0 {
		return shop.Bad("claim", "Dinner meat comes from an earlier lot than the class's own (R22).")
	}
	var days []struct {
		OrderID shop.OrderID
		Day     unit.Day
	}
	err := db.Raw("SELECT order_id, min(day) AS day FROM deliveries WHERE order_id IN (?, ?) GROUP BY order_id", order, c.OrderID).Scan(&days).Error
	if err != nil {
		return err
	}
	day := map[shop.OrderID]unit.Day{}
	for _, d := range days {
		day[d.OrderID] = d.Day
	}
	switch {
	case day[order] == 0:
		return shop.Stop("not_delivered", "That meat is not in the shop.")
	case c.OrderID != 0 && day[c.OrderID] != 0 && day[order] >= day[c.OrderID]:
		return shop.Bad("claim", "That lot came on %s, no earlier than the class's own of %s: dinner meat comes from an earlier lot (R22).", day[order].Show(), day[c.OrderID].Show())
	case day[order] > c.Day:
		return shop.Bad("claim", "That lot came after the dinner.")
	}
	return nil
}

func (t tx) earlierLot(order shop.OrderID, c *shop.Class) error { return t.s.earlier(t.DB, order, c) }

// ChooseDinnerLot writes down which lot a dinner's meat comes from, for the table sheet
// and for a trace; the class's own and later lots are refused (R22).
func (s *Store) ChooseDinnerLot(ctx context.Context, by shop.Actor, code, lot string) error {
	return s.tx(ctx, func(t tx) error {
		c, err := take[shop.Class](t.DB, "The class", "code = ?", trim(code))
		if err != nil {
			return err
		}
		k, err := t.kindOf(c)
		if err != nil {
			return err
		}
		if !k.Dinner {
			return shop.Bad("dinner", "%s has no dinner.", c.Code)
		}
		d, err := take[shop.Delivery](t.DB, "The lot "+trim(lot), "lot = ?", trim(lot))
		if err != nil {
			return err
		}
		if err := t.earlierLot(d.OrderID, c); err != nil {
			return err
		}
		if _, err := t.lockClass(c.ID); err != nil {
			return err
		}
		var was []shop.DinnerChoice
		if was, err = many[shop.DinnerChoice](t.DB, "id", "class_id = ? AND ended_at = 0", c.ID); err != nil {
			return err
		}
		if len(was) == 1 && was[0].DeliveryID == d.ID {
			return nil
		}
		if err := t.Model(&shop.DinnerChoice{}).Where("class_id = ? AND ended_at = 0", c.ID).Update("ended_at", t.now).Error; err != nil {
			return err
		}
		if err := t.Create(&shop.DinnerChoice{ClassID: c.ID, DeliveryID: d.ID, MadeAt: t.now, By: by.Name}).Error; err != nil {
			if isDuplicate(err) {
				return shop.ErrMoved
			}
			return err
		}
		return t.note(by, "class", int64(c.ID), "dinner meat", "", d.Lot, "")
	})
}
