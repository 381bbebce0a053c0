package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// MeatPiece is one piece of a delivery that can be promised to one purpose (R21).
type MeatPiece struct {
	Piece    string // "animal", "side", "hindquarter", "forequarter"
	ID       int64  // as a claim names it
	Name     string // "beef 1 L hindquarter"
	Weight   unit.Weight
	Reckoned bool   // from the side, not weighed
	Purpose  string // its claim, "" while free
	Class    string // code, when it is for one
	Why      string // why no class may cut it, "" when one may
}

// pieces lists what a delivery can be claimed as: lambs and deer whole, cattle by the
// quarter, pigs by the side. Bellies are listed with their slabs.
func (s *Store) pieces(db *gorm.DB, o *shop.Order) ([]MeatPiece, error) {
	animals, err := many[shop.Animal](db, "number", "order_id = ? AND condemned = ? AND delivery_id <> 0", o.ID, false)
	if err != nil || len(animals) == 0 {
		return nil, err
	}
	sides, err := many[shop.Side](db, "animal_id, which", "animal_id IN (SELECT id FROM animals WHERE order_id = ?)", o.ID)
	if err != nil {
		return nil, err
	}
	var out []MeatPiece
	for _, a := range animals {
		var cold unit.Weight
		var parts []MeatPiece
		for _, sd := range sides {
			if sd.AnimalID != a.ID {
				continue
			}
			cold += sd.Cold
			name := animalTag(a) + " " + sd.Which
			if a.Species != "beef" {
				parts = append(parts, MeatPiece{Piece: "side", ID: int64(sd.ID), Name: name, Weight: sd.Cold})
				continue
			}
			hind, fore, reckoned := sd.Hind, sd.Fore, sd.Hind == 0
			if reckoned {
				hind, fore = carcass.Quarters(sd.Cold)
			}
			h := MeatPiece{Piece: "hindquarter", ID: int64(sd.ID), Name: name + " hindquarter", Weight: hind, Reckoned: reckoned}
			if no := inspection.BoneInLoin(a.Age); no != nil {
				h.Why = no.Error()
			}
			parts = append(parts, h, MeatPiece{Piece: "forequarter", ID: int64(sd.ID), Name: name + " forequarter", Weight: fore, Reckoned: reckoned})
		}
		if a.Species == "lamb" || a.Species == "deer" {
			parts = []MeatPiece{{Piece: "animal", ID: int64(a.ID), Name: animalTag(a), Weight: cold}}
		}
		out = append(out, parts...)
	}
	return out, s.claimsOn(db, out)
}

func (s *Store) claimsOn(db *gorm.DB, pieces []MeatPiece) error {
	for i := range pieces {
		p := &pieces[i]
		var c struct {
			Purpose string
			Code    string
		}
		err := db.Raw(`SELECT m.purpose, coalesce(c.code, '') AS code FROM claims m LEFT JOIN classes c ON c.id = m.class_id
			WHERE m.piece = ? AND m.subject_id = ? AND m.ended_at = 0`, p.Piece, p.ID).Scan(&c).Error
		if err != nil {
			return fmt.Errorf("claim on %s: %w", p.Name, err)
		}
		p.Purpose, p.Class = c.Purpose, c.Code
	}
	return nil
}

// SellRest claims every free piece of a delivery for the counter: what no class and no
// dinner wants is sold. Animals whose bellies become slabs are left: their sides are cut
// up for the bellies and need no claim.
func (s *Store) SellRest(ctx context.Context, by shop.Actor, id shop.OrderID) (n int, err error) {
	err = s.tx(ctx, func(t tx) error {
		n = 0
		o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
		if err != nil {
			return err
		}
		y, err := yieldOf(t.DB, o.FarmID, o.Species)
		if err != nil {
			return err
		}
		if y.Profile.Belly > 0 {
			return shop.Bad("claim", "The bellies of these animals become slabs: claim their sides one by one.")
		}
		pieces, err := s.pieces(t.DB, o)
		if err != nil {
			return err
		}
		if len(pieces) == 0 {
			return shop.Stop("not_delivered", "%s is not delivered.", o.Ref())
		}
		for _, p := range pieces {
			if p.Purpose != "" {
				continue
			}
			if err := t.claim(by, p.Piece, p.ID, "counter", shop.Class{}); err != nil {
				return err
			}
			n++
		}
		return nil
	})
	return n, err
}
