package store

import (
	"errors"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// recipeOf turns the shop's recipe and the limits it was approved under into the
// planner's.
func recipeOf(r shop.Recipe) cure.Recipe {
	l := cure.USDryBacon()
	l.Max, l.Floor = cure.PPM(r.Limit)*cure.MgPerKg, cure.PPM(r.Floor)*cure.MgPerKg
	l.SkinRule.Least = r.SkinShare
	l.ApprovedBy = r.ApprovedBy
	if r.Source != "" {
		l.Source = r.Source
	}
	return cure.Recipe{Name: r.Name, Salt: r.Salt, Sugar: r.Sugar, CuringSalt: r.Cure, Limit: l}
}

// house is the recipe kits are made by: the first the shop has entered.
func house(db *gorm.DB) (*shop.Recipe, error) {
	var r shop.Recipe
	err := db.Order("id").Take(&r).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, shop.Stop("no_recipe", "No cure recipe is entered yet. Enter one with its limits and who approved it.")
	}
	return &r, err
}

// openLot is the lot of an ingredient in use on a day: opened by then, not used up.
func openLot(db *gorm.DB, ingredient string, day unit.Day) (*shop.IngredientLot, error) {
	var l shop.IngredientLot
	err := db.Where("ingredient = ? AND opened_on <= ? AND (used_up_on IS NULL OR used_up_on > ?)", ingredient, day, day).
		Order("opened_on DESC, id DESC").Take(&l).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, shop.Stop("no_lot", "No open lot of %s is entered. Enter the lot on the bag or tin first.", ingredient)
	}
	return &l, err
}

// jarOf is the spice for a slab as far as it is known: what is on it, the pick of its
// seat, plain for the shop's own. ask is true when the guest has yet to say.
func jarOf(db *gorm.DB, sl *shop.Slab) (jar shop.Jar, ask bool, err error) {
	where, arg := "id = ?", any(sl.JarID)
	if sl.JarID == 0 {
		if sl.Demo || sl.SeatID == 0 {
			where, arg = "rate = ?", 0
		} else {
			var p shop.Pick
			err := db.Where("seat_id = ? AND slot = ?", sl.SeatID, sl.Slot).Take(&p).Error
			if err != nil && !errors.Is(err, gorm.ErrRecordNotFound) {
				return jar, false, err
			}
			if p.State != shop.PickMade || p.JarID == 0 {
				return jar, true, nil
			}
			arg = p.JarID
		}
	}
	err = db.Where(where, arg).Order("id").Take(&jar).Error
	if errors.Is(err, gorm.ErrRecordNotFound) && sl.JarID == 0 && arg == any(0) {
		return shop.Jar{Name: "plain"}, false, nil // a shop without a plain jar: nothing to put on
	}
	return jar, false, notFound(err, "The spice jar of "+sl.Tag)
}

// reckonTicket is what to weigh out for a slab of weight green as things stand now.
func reckonTicket(db *gorm.DB, sl *shop.Slab, green unit.Weight, day unit.Day) (cure.Ticket, *shop.CureTicket, error) {
	r, err := house(db)
	if err != nil {
		return cure.Ticket{}, nil, err
	}
	lot, err := openLot(db, "curing salt", day)
	if err != nil {
		return cure.Ticket{}, nil, err
	}
	jar, _, err := jarOf(db, sl)
	if err != nil {
		return cure.Ticket{}, nil, err
	}
	return ticketOf(sl, green, r, lot, jar)
}

func ticketOf(sl *shop.Slab, green unit.Weight, r *shop.Recipe, lot *shop.IngredientLot, jar shop.Jar) (cure.Ticket, *shop.CureTicket, error) {
	k, err := cure.NewTicket(
		cure.Slab{Tag: sl.Tag, Green: green, SkinOn: sl.SkinOn}, recipeOf(*r),
		cure.Jar{Code: jar.Code, Rate: jar.Rate},
		cure.WholeLot(cure.Lot{ID: lot.Code, Nitrite: lot.Nitrite, Nitrate: lot.Nitrate}), cure.CureStep)
	if err != nil {
		return k, nil, shop.Stop("no_ticket", "No kit can be made for %s: %s.", sl.Tag, err)
	}
	if err := k.Check(); err != nil {
		return k, nil, err
	}
	return k, &shop.CureTicket{SlabID: sl.ID, RecipeID: r.ID, CureLotID: lot.ID, JarID: jar.ID, Green: green, Basis: k.Basis,
		Salt: k.Salt, Sugar: k.Sugar, Cure: k.CuringSalt, Spice: k.Spice, PPM: k.Verdict.PPM}, nil
}

// freshTicket returns the ticket that counts for a slab, made anew when weight, skin,
// spice, recipe or curing-salt lot have changed since the last; the old one is kept,
// marked as superseded. Nothing is written when the ticket still holds.
func (t tx) freshTicket(sl *shop.Slab) (cure.Ticket, *shop.CureTicket, error) {
	return t.freshTicketOn(sl, t.today)
}

// freshTicketOn is freshTicket for what was done on a day and is heard of later.
func (t tx) freshTicketOn(sl *shop.Slab, day unit.Day) (cure.Ticket, *shop.CureTicket, error) {
	k, row, err := reckonTicket(t.DB, sl, sl.Green, day)
	if err != nil {
		return k, nil, err
	}
	var old shop.CureTicket
	err = t.Where("slab_id = ? AND superseded_at = 0", sl.ID).Take(&old).Error
	switch {
	case errors.Is(err, gorm.ErrRecordNotFound):
	case err != nil:
		return k, nil, err
	default:
		row.ID, row.MadeAt = old.ID, old.MadeAt
		if *row == old {
			return k, &old, nil
		}
		row.ID = 0
		if err := t.Model(&shop.CureTicket{}).Where("id = ?", old.ID).Update("superseded_at", t.now).Error; err != nil {
			return k, nil, err
		}
	}
	row.MadeAt = t.now
	return k, row, t.Create(row).Error
}

// sameCure says whether two tickets ask for the same cure on the same meat, whatever
// the spice: then curing salt weighed for the one was weighed for the other.
func sameCure(a, b shop.CureTicket) bool {
	return a.SlabID == b.SlabID && a.RecipeID == b.RecipeID && a.CureLotID == b.CureLotID && a.Basis == b.Basis && a.Cure == b.Cure && a.Salt == b.Salt && a.Sugar == b.Sugar
}
