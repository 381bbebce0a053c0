package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// BellyLine is a belly with where it comes from, what it is promised to and the slabs
// it gives.
type BellyLine struct {
	BellyID  shop.BellyID
	SideID   shop.SideID
	AnimalID shop.AnimalID
	OrderID  shop.OrderID
	Number   int    // of the animal within its order
	Which    string // side
	Species  string
	EarTag   string
	Cold     unit.Weight // of the side
	Weight   unit.Weight
	Measured bool
	SkinOn   bool
	Purpose  string // its own claim, "" while free
	SideFor  string // purpose of the side's claim, "" while free
	ClassDay unit.Day
	Clinic   string           // class that cuts the side up
	Moved    int              // slabs of it that are cut
	Tag      string           `gorm:"-"` // "pig 2 L"
	Cut      carcass.BellyCut `gorm:"-"`
	For      []string         `gorm:"-"` // "B3 × 3"
}

// side is the belly as the planner cuts it.
func (b BellyLine) side() carcass.Side {
	return carcass.Side{Tag: b.Tag, Cold: b.Cold, Belly: b.Weight, Skin: shop.Skin(b.SkinOn)}
}

// From is the first class day that may have slabs of it: the day after a clinic has cut
// its side up, else any.
func (b BellyLine) From() unit.Day {
	if b.ClassDay == 0 {
		return 0
	}
	return b.ClassDay + 1
}

// Usable says whether it may become slabs.
func (b BellyLine) Usable() bool {
	return (b.Purpose == "" || b.Purpose == "slabs") && (b.SideFor == "" || b.SideFor == "class")
}

const bellyQuery = `SELECT b.id AS belly_id, s.id AS side_id, a.id AS animal_id, a.order_id, a.number, a.species, a.tag AS ear_tag,
	s.which, s.cold, b.weight, b.measured, b.skin_on, coalesce(cb.purpose, '') AS purpose, coalesce(cs.purpose, '') AS side_for,
	c.day AS class_day, coalesce(c.code, '') AS clinic,
	(SELECT count(*) FROM slabs l WHERE l.belly_id = b.id AND l.state <> 'wanted') AS moved
	FROM bellies b JOIN sides s ON s.id = b.side_id JOIN animals a ON a.id = s.animal_id
	LEFT JOIN claims cb ON cb.piece = 'belly' AND cb.subject_id = b.id AND cb.ended_at = 0
	LEFT JOIN claims cs ON cs.piece = 'side' AND cs.subject_id = s.id AND cs.ended_at = 0
	LEFT JOIN classes c ON c.id = cs.class_id AND cs.purpose = 'class' `

// bellies reads bellies in cutting order: animal by animal, left side first. Bellies of
// other orders (out of the freezer) come last.
func (s *Store) bellies(db *gorm.DB, order shop.OrderID, where string, args ...any) ([]BellyLine, error) {
	var lines []BellyLine
	err := db.Raw(bellyQuery+"WHERE "+where, args...).Scan(&lines).Error
	if err != nil {
		return nil, fmt.Errorf("bellies: %w", err)
	}
	profiles := map[shop.OrderID]carcass.Profile{}
	for i := range lines {
		b := &lines[i]
		p, ok := profiles[b.OrderID]
		if !ok {
			o, err := take[shop.Order](db, "The order", "id = ?", b.OrderID)
			if err != nil {
				return nil, err
			}
			y, err := yieldOf(db, o.FarmID, o.Species)
			if err != nil {
				return nil, err
			}
			p = y.Profile
			profiles[b.OrderID] = p
		}
		b.Tag = fmt.Sprintf("%s %d %s", shop.AnimalOf(b.Species), b.Number, b.Which)
		if b.OrderID != order && order != 0 {
			b.Tag = fmt.Sprintf("belly %d, frozen", b.BellyID)
		}
		b.Cut = p.CutSide(s.Rules.SlabRule(), carcass.Side{Tag: b.Tag, Cold: b.Cold, Belly: b.Weight, Skin: shop.Skin(b.SkinOn)})
	}
	return lines, nil
}

// bellyLine reads one belly.
func (t tx) bellyLine(id shop.BellyID) (*BellyLine, error) {
	lines, err := t.s.bellies(t.DB, 0, "b.id = ?", id)
	if err != nil {
		return nil, err
	}
	if len(lines) == 0 {
		return nil, shop.Missing("The belly")
	}
	return &lines[0], nil
}

// SetSkin leaves the skin on a belly or takes it off (R16, R18b). Once a slab of it is
// cut it stays as it is.
func (s *Store) SetSkin(ctx context.Context, by shop.Actor, id shop.BellyID, on bool) error {
	return s.tx(ctx, func(t tx) error { return t.setSkin(by, id, on) })
}

func (t tx) setSkin(by shop.Actor, id shop.BellyID, on bool) error {
	l, err := t.bellyLine(id)
	if err != nil {
		return err
	}
	if l.Moved > 0 {
		return shop.Stop("cut_already", "%s is cut already.", l.Tag)
	}
	if l.SkinOn == on {
		return nil
	}
	res := t.Model(&shop.Belly{}).Where("id = ? AND skin_on = ?", id, !on).Update("skin_on", on)
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	if err := t.note(by, "belly", int64(id), shop.Skin(on).String(), shop.Skin(!on).String(), shop.Skin(on).String(), l.Tag); err != nil {
		return err
	}
	return t.refreshCutList(l.OrderID)
}
