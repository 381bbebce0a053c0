package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/inspection"
)

// NewClaim promises a piece of meat to one purpose (R21).
type NewClaim struct {
	Piece   string // "animal", "side", "hindquarter", "forequarter" (of a side) or "belly"
	Subject int64  // key of the animal, side or belly
	Purpose string // "class", "slabs", "counter", "dinner" or "freezer"
	Class   string // code, for "class", "slabs" and "dinner"
}

// Claim promises a piece of meat, or moves the promise it is under. Two can never be in
// force: the database refuses the second. Condemned meat, and meat not delivered under
// an inspection mark, cannot be claimed.
func (s *Store) Claim(ctx context.Context, by shop.Actor, n NewClaim) error {
	return s.tx(ctx, func(t tx) error {
		var class shop.Class
		if n.Class != "" {
			c, err := take[shop.Class](t.DB, "Class "+n.Class, "code = ?", n.Class)
			if err != nil {
				return err
			}
			class = *c
		}
		return t.claim(by, n.Piece, n.Subject, n.Purpose, class)
	})
}

// FreeClaim ends the promise a piece of meat is under: it is free for another.
func (s *Store) FreeClaim(ctx context.Context, by shop.Actor, piece string, id int64) error {
	return s.tx(ctx, func(t tx) error {
		a, err := t.animalOf(piece, id)
		if err != nil {
			return err
		}
		var n int64
		if err := t.Model(&shop.Claim{}).Where("piece = ? AND subject_id = ? AND ended_at = 0", piece, id).Count(&n).Error; err != nil || n == 0 {
			return err
		}
		if err := t.endClaim(piece, id); err != nil {
			return err
		}
		if err := t.note(by, piece, id, "claim ended", "", "", ""); err != nil {
			return err
		}
		return t.refreshCutList(a.OrderID)
	})
}

func (t tx) claim(by shop.Actor, piece string, id int64, purpose string, class shop.Class) error {
	switch purpose {
	case "class", "dinner":
		if class.ID == 0 {
			return shop.Bad("claim", "Say for which class.")
		}
	case "slabs", "counter", "freezer":
	default:
		return shop.Bad("claim", "Meat is claimed for a class, slabs, the counter, a dinner or the freezer.")
	}
	a, err := t.animalOf(piece, id)
	if err != nil {
		return err
	}
	// Claims on an animal and on its parts are looked at one after the other.
	if err := t.Exec("UPDATE animals SET number = number WHERE id = ?", a.ID).Error; err != nil {
		return err
	}
	switch {
	case a.Condemned:
		return shop.Stop("condemned", "%s was condemned at inspection: it can never be used.", animalTag(*a))
	case a.DeliveryID == 0:
		return shop.Stop("not_delivered", "%s is not in the shop under an inspection mark.", animalTag(*a))
	}
	if purpose == "dinner" {
		if err := t.earlierLot(a.OrderID, &class); err != nil {
			return err
		}
	}
	if purpose == "class" {
		k, err := t.kindOf(&class)
		if err != nil {
			return err
		}
		if err := mayCut(k, piece, a); err != nil {
			return shop.Bad("claim", "%s: %s", animalTag(*a), err.Error())
		}
	}
	if err := t.noOverlap(piece, id, a.ID); err != nil {
		return err
	}
	if err := t.endClaim(piece, id); err != nil {
		return err
	}
	row := shop.Claim{Piece: piece, SubjectID: id, Purpose: purpose, ClassID: class.ID, MadeAt: t.now, By: by.Name}
	if err := t.Create(&row).Error; err != nil {
		if isDuplicate(err) {
			return shop.ErrMoved
		}
		return err
	}
	if err := t.note(by, piece, id, "claimed", "", purpose, class.Code); err != nil {
		return err
	}
	return t.refreshCutList(a.OrderID)
}

// endClaim ends the claim on a piece, if there is one.
func (t tx) endClaim(piece string, id int64) error {
	if piece == "belly" {
		var n int64
		if err := t.Model(&shop.Slab{}).Where("belly_id = ? AND state <> ?", id, shop.Wanted).Count(&n).Error; err != nil {
			return err
		}
		if n > 0 {
			return shop.Stop("cut_already", "That belly is cut already.")
		}
	}
	return t.Model(&shop.Claim{}).Where("piece = ? AND subject_id = ? AND ended_at = 0", piece, id).Update("ended_at", t.now).Error
}

// noOverlap refuses a claim on a whole whose part is claimed, and the other way round.
// A belly is a piece of its own: a clinic takes the side apart, the belly goes on.
func (t tx) noOverlap(piece string, id int64, animal shop.AnimalID) error {
	var q *gorm.DB
	open := t.Model(&shop.Claim{}).Where("ended_at = 0")
	sides := "(SELECT id FROM sides WHERE animal_id = ?)"
	switch piece {
	case "animal":
		q = open.Where("piece IN ('side', 'hindquarter', 'forequarter') AND subject_id IN "+sides+" OR piece = 'belly' AND subject_id IN (SELECT id FROM bellies WHERE side_id IN "+sides+")", animal, animal)
	case "side":
		q = open.Where("piece = 'animal' AND subject_id = ? OR piece IN ('hindquarter', 'forequarter') AND subject_id = ?", animal, id)
	case "hindquarter", "forequarter":
		q = open.Where("piece = 'animal' AND subject_id = ? OR piece = 'side' AND subject_id = ?", animal, id)
	default:
		q = open.Where("piece = 'animal' AND subject_id = ?", animal)
	}
	var n int64
	if err := q.Count(&n).Error; err != nil || n == 0 {
		return err
	}
	return shop.Stop("claimed", "Another claim on the same meat stands in the way.")
}

// animalOf finds the animal a piece is of.
func (t tx) animalOf(piece string, id int64) (*shop.Animal, error) {
	switch piece {
	case "animal":
		return take[shop.Animal](t.DB, "The animal", "id = ?", id)
	case "side", "hindquarter", "forequarter":
		return take[shop.Animal](t.DB, "The side", "id = (SELECT animal_id FROM sides WHERE id = ?)", id)
	case "belly":
		return take[shop.Animal](t.DB, "The belly", "id = (SELECT animal_id FROM sides WHERE id = (SELECT side_id FROM bellies WHERE id = ?))", id)
	}
	return nil, shop.Bad("claim", "Only an animal, a side, a quarter or a belly can be claimed.")
}

// mayCut says whether a class may cut a piece of an animal: loins of cattle are cut on the
// bone only under 30 months.
func mayCut(k *shop.ClassKind, piece string, a *shop.Animal) error {
	if !k.BoneIn || a.Species != "beef" || piece == "forequarter" || piece == "belly" {
		return nil
	}
	return inspection.BoneInLoin(a.Age)
}

// claimClinics gives each clinic of a delivered order its meat: the last sides that are
// free, so that bellies for slabs are cut from the front. Staff may change it. Meat the
// class may not cut is left, and the owner told.
func (t tx) claimClinics(by shop.Actor, o *shop.Order) error {
	calls, err := t.s.meatCalls(t.DB, "order_id = ?", o.ID)
	if err != nil {
		return err
	}
	for _, m := range calls {
		if m.Call.Unit == demand.Belly {
			continue
		}
		n := (max(m.Call.Seats.Sold, 1) + m.Call.PerUnit - 1) / m.Call.PerUnit
		piece, free := "side", "SELECT a.id AS animal_id, s.id FROM sides s JOIN animals a ON a.id = s.animal_id"
		switch m.Call.Unit {
		case demand.Hindquarter:
			piece = "hindquarter"
		case demand.Whole:
			piece, free = "animal", "SELECT a.id AS animal_id, a.id FROM animals a"
		}
		order := " ORDER BY a.number DESC"
		if piece != "animal" {
			order += ", s.which DESC"
		}
		key := map[bool]string{true: "a.id", false: "s.id"}[piece == "animal"]
		var rows []struct {
			AnimalID shop.AnimalID
			ID       int64
		}
		err := t.Raw(free+" WHERE a.order_id = ? AND a.condemned = ? AND a.delivery_id <> 0 AND "+key+
			" NOT IN (SELECT subject_id FROM claims WHERE piece = ? AND ended_at = 0)"+order, o.ID, false, piece).Scan(&rows).Error
		if err != nil {
			return fmt.Errorf("meat for %s: %w", m.Class.Code, err)
		}
		var refused string
		for _, r := range rows {
			if n == 0 {
				break
			}
			a, err := take[shop.Animal](t.DB, "The animal", "id = ?", r.AnimalID)
			if err != nil {
				return err
			}
			if no := mayCut(&m.Kind, piece, a); no != nil {
				refused = fmt.Sprintf("%s: %s", animalTag(*a), no.Error())
				continue
			}
			if err := t.claim(by, piece, r.ID, "class", m.Class); err != nil {
				return err
			}
			n--
		}
		if n > 0 && refused != "" {
			err := t.tellShop(shop.Notice{Key: fmt.Sprintf("class-meat/%d/%d", o.ID, m.Class.ID), Kind: shop.NoticeOwnerTask, Subject: "order", SubjectID: int64(o.ID), Urgent: true},
				shop.Facts{Ref: o.Ref(), Class: m.Class.Title, ClassCode: m.Class.Code, StartsAt: m.Class.StartsAt, EndsAt: m.Class.EndsAt,
					Lines: []string{fmt.Sprintf("%s has no %s it may cut. %s", m.Class.Code, piece, refused)}})
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// claimBellies claims the bellies the cut list uses for slabs and frees those it uses
// no more.
func (t tx) claimBellies(by shop.Actor, o *shop.Order, r *Recount) error {
	for j, b := range r.Bellies {
		used := len(r.plan.taken[j]) > 0
		switch {
		case used && b.Purpose == "":
			row := shop.Claim{Piece: "belly", SubjectID: int64(b.BellyID), Purpose: "slabs", MadeAt: t.now, By: by.Name}
			if err := t.Create(&row).Error; err != nil {
				if isDuplicate(err) {
					return shop.ErrMoved
				}
				return err
			}
		case !used && b.Purpose == "slabs" && b.OrderID == o.ID:
			if err := t.endClaim("belly", int64(b.BellyID)); err != nil {
				return err
			}
		}
	}
	return nil
}
