package store

import (
	"context"

	"flitchbook/api/shop"
)

// NewLot is a bag or tin being opened.
type NewLot struct {
	Ingredient string
	Code       string
	Supplier   string
	Nitrite    string // share, of a curing salt: "6.25 %"
	Nitrate    string // share, of a curing salt that holds some; none such may go onto bacon
	Replaces   string // code of the lot it follows in the jars; "" when it follows none
}

// OpenLot begins an ingredient lot. Where it follows another, that one is used up now and
// every jar that held it holds the new one: from here on a slab's spice traces to it.
func (s *Store) OpenLot(ctx context.Context, by shop.Actor, n NewLot) error {
	n.Ingredient, n.Code = trim(n.Ingredient), trim(n.Code)
	var w shop.Wrong
	if n.Ingredient == "" {
		w.Add("ingredient", "Which ingredient?")
	}
	if n.Code == "" {
		w.Add("code", "Write the lot as it stands on the bag.")
	}
	lot := shop.IngredientLot{Ingredient: n.Ingredient, Code: n.Code, Supplier: trim(n.Supplier)}
	if n.Nitrite != "" {
		w.AddErr("nitrite", lot.Nitrite.UnmarshalText([]byte(n.Nitrite)))
		if lot.Nitrite < 0 || lot.Nitrite >= 1_000_000 {
			w.Add("nitrite", "The share of nitrite lies between nothing and all, such as 6.25 %%.")
		}
	}
	if n.Nitrate != "" {
		w.AddErr("nitrate", lot.Nitrate.UnmarshalText([]byte(n.Nitrate)))
		if lot.Nitrate < 0 || lot.Nitrate+lot.Nitrite >= 1_000_000 {
			w.Add("nitrate", "Nitrite and nitrate together are less than all of it.")
		}
	}
	if n.Ingredient == "curing salt" && lot.Nitrite == 0 {
		w.Add("nitrite", "Write the share of nitrite that stands on the bag, such as 6.25 %%.")
	}
	if n.Ingredient != "curing salt" && lot.Nitrite+lot.Nitrate > 0 {
		w.Add("ingredient", "What holds nitrite or nitrate is a curing salt: enter it as that.")
	}
	if err := w.Err(); err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		lot.OpenedOn = t.today
		if err := t.Create(&lot).Error; err != nil {
			if isDuplicate(err) {
				return shop.Bad("lot_known", "Lot %s of %s is on the books already.", n.Code, n.Ingredient)
			}
			return err
		}
		if n.Replaces != "" {
			old, err := take[shop.IngredientLot](t.DB, "Lot "+n.Replaces+" of "+n.Ingredient, "ingredient = ? AND code = ?", n.Ingredient, n.Replaces)
			if err != nil {
				return err
			}
			if err := t.followLot(old, &lot); err != nil {
				return err
			}
		}
		return t.note(by, "lot", int64(lot.ID), "opened", "", "", n.Ingredient+" "+n.Code)
	})
}

func (t tx) followLot(old, lot *shop.IngredientLot) error {
	if err := t.Model(old).Where("id = ?", old.ID).Update("used_up_on", t.today).Error; err != nil {
		return err
	}
	jars, err := many[shop.JarLot](t.DB, "id", "lot_id = ? AND until_at = 0", old.ID)
	if err != nil {
		return err
	}
	for _, j := range jars {
		if err := t.Model(&shop.JarLot{}).Where("id = ?", j.ID).Update("until_at", t.now).Error; err != nil {
			return err
		}
		if err := t.Create(&shop.JarLot{JarID: j.JarID, LotID: lot.ID, From: t.now}).Error; err != nil {
			return err
		}
	}
	return nil
}
