package store

import (
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// AnimalCost is a carcass's cost shared by value over its cuts (W3).
type AnimalCost struct {
	carcass.CostShare
	Farm  string
	What  string // "2 pigs of order 3, as they hung", "one pig of 206.00 lb, as usual"
	Order int    // its number; 0 while the animals are the usual ones
	Belly *carcass.CutCost
	Sides int // the cost is for
	Hot   unit.Weight
	Meat  unit.Money // hot weight × price
	Kill  unit.Money
	Haul  unit.Money
}

// classYield is the yield of the farm that feeds a class, or of the farm known longest.
func (s *Store) classYield(db *gorm.DB, c *shop.Class, k *shop.ClassKind) (farmYield, error) {
	var farm shop.FarmID
	if c.OrderID != 0 {
		o, err := take[shop.Order](db, "The order", "id = ?", c.OrderID)
		if err != nil {
			return farmYield{}, err
		}
		farm = o.FarmID
	}
	return yieldOf(db, farm, k.Species)
}

// animalCost shares what the class's animals cost over their cuts: as they hung once they
// were delivered, else one animal of the usual weight. nil when the kind needs none, or
// when nothing of it stands on the value list.
func (s *Store) animalCost(db *gorm.DB, c *shop.Class, k *shop.ClassKind) (*AnimalCost, error) {
	if k.Species == "" {
		return nil, nil
	}
	y, err := s.classYield(db, c, k)
	if err != nil {
		return nil, err
	}
	a := &AnimalCost{Farm: y.Farm.Name, Sides: 2, Hot: y.Row.HCW, Meat: y.Row.PricePerPound.PerPound(y.Row.HCW), Kill: y.Row.KillFee, Haul: y.Farm.HaulCents,
		What: fmt.Sprintf("one %s of %s, as usual", shop.AnimalOf(k.Species), y.Row.HCW.LB())}
	cuts := y.Profile.Whole()
	if c.OrderID != 0 {
		if cuts, err = s.hungCost(db, c.OrderID, y, a, cuts); err != nil {
			return nil, err
		}
	}
	share, err := carcass.ShareCost(a.Meat+a.Kill+a.Haul, cuts, s.Rules.ValueOf)
	a.CostShare, a.Cost = share, a.Meat+a.Kill+a.Haul
	if err != nil {
		a.Cuts = nil // nothing of it is on the value list: the cost stands whole
	}
	for i := range a.Cuts {
		if a.Cuts[i].Cut == "belly" {
			a.Belly = &a.Cuts[i]
		}
	}
	return a, nil
}

// hungCost replaces the usual animal by the order's own, once they were delivered.
func (s *Store) hungCost(db *gorm.DB, id shop.OrderID, y farmYield, a *AnimalCost, usual []carcass.Cut) ([]carcass.Cut, error) {
	o, err := take[shop.Order](db, "The order", "id = ?", id)
	if err != nil {
		return nil, err
	}
	animals, err := many[shop.Animal](db, "number", "order_id = ?", id)
	if err != nil || o.Delivered == 0 {
		return usual, err
	}
	var sides []struct{ Cold, Belly unit.Weight }
	err = db.Raw(`SELECT s.cold, coalesce(b.weight, 0) AS belly FROM sides s JOIN animals a ON a.id = s.animal_id LEFT JOIN bellies b ON b.side_id = s.id
		WHERE a.order_id = ? AND a.condemned = ? ORDER BY a.number, s.which`, id, false).Scan(&sides).Error
	if err != nil || len(sides) == 0 {
		return usual, err
	}
	m := o.Money(animals, 0)
	a.Hot, a.Meat, a.Kill, a.Haul, a.Order, a.Sides = m.Hot, m.Farm, m.Plant, m.Haul, o.Number, len(sides)
	a.What = fmt.Sprintf("%s of order %d, as they hung", shop.AnimalsIn(o.Species, o.Delivered), o.Number)
	var colds []unit.Weight
	belly := carcass.Cut{Name: "belly"}
	for _, sd := range sides {
		colds = append(colds, sd.Cold)
		belly.Weight += sd.Belly
	}
	cuts := y.Profile.Leaves(colds).Cuts
	if belly.Weight > 0 {
		cuts = append([]carcass.Cut{belly}, cuts...)
	}
	return cuts, nil
}
