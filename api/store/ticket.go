package store

import (
	"errors"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// house is what kits are made by: the first recipe the shop has entered, and the limit it
// has chosen.
func house(db *gorm.DB) (book, error) {
	var r shop.Recipe
	err := db.Order("id").Take(&r).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return book{}, shop.Stop("no_recipe", "No cure recipe is entered yet. Enter one with its limits and who approved it.")
	}
	if err != nil {
		return book{}, err
	}
	l, err := chosenLimit(db)
	return book{&r, l}, err
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
	scale, err := scaleInUse(db, day)
	if err != nil {
		return cure.Ticket{}, nil, err
	}
	return ticketOf(sl, green, r, lot, jar, scale.Step)
}

func ticketOf(sl *shop.Slab, green unit.Weight, b book, lot *shop.IngredientLot, jar shop.Jar, step unit.Weight) (cure.Ticket, *shop.CureTicket, error) {
	k, err := cure.NewTicket(
		cure.Slab{Tag: sl.Tag, Green: green, SkinOn: sl.SkinOn}, b.recipe(),
		cure.Jar{Code: jar.Code, Rate: jar.Rate},
		cure.WholeLot(cure.Lot{ID: lot.Code, Nitrite: lot.Nitrite, Nitrate: lot.Nitrate}), step)
	if err != nil {
		return k, nil, shop.Stop("no_ticket", "No kit can be made for %s: %s.", sl.Tag, err)
	}
	if err := k.Check(); err != nil {
		return k, nil, err
	}
	row := &shop.CureTicket{SlabID: sl.ID, RecipeID: b.ID, CureLotID: lot.ID, JarID: jar.ID, Green: green, Basis: k.Basis,
		Salt: k.Salt, Sugar: k.Sugar, Cure: k.CuringSalt, Spice: k.Spice, PPM: k.Verdict.PPM}
	b.stamp(row)
	return k, row, nil
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
		same := *row
		same.ID, same.MadeAt, same.LimitCode, same.LimitMost = old.ID, old.MadeAt, old.LimitCode, old.LimitMost
		if same == old { // a limit chosen since leaves it as it is: it was just held against that too
			return k, &old, nil
		}
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

// bandOf is what half a step of the scale makes of a ticket's nitrite.
func bandOf(k cure.Ticket) cure.PPM {
	if k.Basis <= 0 || len(k.Parts) == 0 {
		return 0
	}
	var strongest unit.Ratio
	for _, p := range k.Parts {
		strongest = max(strongest, p.Nitrite)
	}
	return cure.WeighingError(k.Step, k.Basis, strongest)
}

// warningOf is what a person should know of a verdict that lets them go on.
func warningOf(v cure.Verdict) string {
	if v.Answer != cure.Warn {
		return ""
	}
	return sentence(v.Reasons[0]) + "."
}
