package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// DinnerLots is what the kitchen may note, and has noted, of the lots a dinner used.
type DinnerLots struct {
	Code     string
	Title    string
	StartsAt unit.Instant
	Meat     string // lot its meat comes from; "" while nobody has said
	Lots     []DinnerLotChoice
}

// DinnerLotChoice is one ingredient lot that was open on the day.
type DinnerLotChoice struct {
	shop.IngredientLot
	Used bool
}

// DinnerLots lists the ingredient lots that were open on the day of a dinner.
func (s *Store) DinnerLots(ctx context.Context, code string) (*DinnerLots, error) {
	return dinnerLotsOf(s.read(ctx), code)
}

func dinnerLotsOf(db *gorm.DB, code string) (*DinnerLots, error) {
	var rows []dinnerClass
	if err := db.Raw(dinnerQuery+" AND c.code = ?", true, trim(code)).Scan(&rows).Error; err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, shop.Missing(fmt.Sprintf("A dinner called %q", trim(code)))
	}
	c := rows[0]
	d := &DinnerLots{Code: c.Code, Title: c.Title, StartsAt: c.StartsAt}
	if d.Title == "" {
		d.Title = c.Kind
	}
	if err := db.Raw("SELECT d.lot FROM dinner_meats m JOIN deliveries d ON d.id = m.delivery_id WHERE m.class_id = ? AND m.ended_at = 0", c.ID).Scan(&d.Meat).Error; err != nil {
		return nil, err
	}
	open, err := many[shop.IngredientLot](db, "ingredient, opened_on, id", "ingredient NOT IN ? AND opened_on <= ? AND (used_up_on IS NULL OR used_up_on >= ?)", []string{shop.Bags, "curing salt"}, c.Day, c.Day)
	if err != nil {
		return nil, err
	}
	var used []shop.LotID
	if err := db.Raw("SELECT lot_id FROM dinner_lots WHERE class_id = ? AND ended_at = 0", c.ID).Scan(&used).Error; err != nil {
		return nil, err
	}
	for _, l := range open {
		d.Lots = append(d.Lots, DinnerLotChoice{l, slices.Contains(used, l.ID)})
	}
	return d, nil
}

// NoteDinnerLots writes down which ingredient lots a dinner used: these and no others. What
// was noted and is taken back stays on record as taken back.
func (s *Store) NoteDinnerLots(ctx context.Context, by shop.Actor, code string, lots []shop.LotID) error {
	return s.tx(ctx, func(t tx) error {
		d, err := dinnerLotsOf(t.DB, code)
		if err != nil {
			return err
		}
		c, err := take[shop.Class](t.DB, "The class", "code = ?", d.Code)
		if err != nil {
			return err
		}
		if _, err := t.lockClass(c.ID); err != nil {
			return err
		}
		for _, id := range lots {
			if !slices.ContainsFunc(d.Lots, func(l DinnerLotChoice) bool { return l.ID == id }) {
				return field("lot", "One of the lots was not open on %s.", c.Day.Show())
			}
		}
		var names []string
		for _, l := range d.Lots {
			want := slices.Contains(lots, l.ID)
			if want {
				names = append(names, l.Ingredient+" "+l.Code)
			}
			switch {
			case want && !l.Used:
				err = t.Create(&shop.DinnerIngredient{ClassID: c.ID, LotID: l.ID, MadeAt: t.now, By: by.Name}).Error
			case !want && l.Used:
				err = t.Model(&shop.DinnerIngredient{}).Where("class_id = ? AND lot_id = ? AND ended_at = 0", c.ID, l.ID).Update("ended_at", t.now).Error
			}
			if err != nil {
				return err
			}
		}
		return t.note(by, "class", int64(c.ID), "dinner lots", "", strings.Join(names, ", "), "")
	})
}
