package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// SealSheet is who brings which bag to the sealer when, and how far it is.
type SealSheet struct {
	Code     string
	State    shop.ClassState
	StartsAt unit.Instant
	Turns    []SealTurn
	SealCount
}

// SealTurn is one cycle of the sealer.
type SealTurn struct {
	From, Until unit.Instant
	Minute      int // of the class, in which it begins
	Bags        []SealBag
}

// SealBag is a slab on its way to the sealer.
type SealBag struct {
	Tag    string
	State  shop.SlabState
	Sealed bool
	Kept   bool // its guest missed the class (R43), or it is cured again: staff seal it
}

// SealCount is how many slabs of a class have come how far. What was dumped or replaced
// is not waited for.
type SealCount struct {
	Of, Cut, Kitted, Sealed int
	Missing                 []string // not sealed, and nobody's missed slab
	Kept                    []string
}

type sealRow struct {
	shop.Slab
	Missed bool
}

func sealRows(db *gorm.DB, class shop.ClassID) ([]sealRow, error) {
	var rows []sealRow
	err := db.Raw(`SELECT slabs.*, (coalesce(seats.state, '') = ? OR slabs.id IN (SELECT new_slab_id FROM amends)) AS missed FROM slabs LEFT JOIN seats ON seats.id = slabs.seat_id
		WHERE slabs.class_id = ? AND slabs.state NOT IN ? ORDER BY slabs.number`, shop.Missed, class, []shop.SlabState{shop.Dumped, shop.Replaced, shop.GivenUp}).Scan(&rows).Error
	return rows, err
}

func (r *sealRow) sealed() bool { return r.SealedOn != 0 }

func countSealed(db *gorm.DB, class shop.ClassID) (SealCount, error) {
	rows, err := sealRows(db, class)
	n := SealCount{Of: len(rows)}
	for i := range rows {
		r := &rows[i]
		at := whereIs(&r.Slab)
		if at != shop.Wanted {
			n.Cut++
		}
		if at != shop.Wanted && at != shop.Cut {
			n.Kitted++
		}
		switch {
		case r.sealed():
			n.Sealed++
		case r.Missed:
			n.Kept = append(n.Kept, r.Tag)
		default:
			n.Missing = append(n.Missing, r.Tag)
		}
	}
	return n, err
}

// SealSheet puts a class's bags in the order they are sealed in: as many at once as the
// sealer takes, one cycle after another, from the minute the house rule names.
func (s *Store) SealSheet(ctx context.Context, code string) (*SealSheet, error) {
	db := s.read(ctx)
	c, err := take[shop.Class](db, "Class "+code, "code = ?", code)
	if err != nil {
		return nil, err
	}
	out := &SealSheet{Code: c.Code, State: c.State, StartsAt: c.StartsAt}
	if out.SealCount, err = countSealed(db, c.ID); err != nil {
		return nil, err
	}
	rows, err := sealRows(db, c.ID)
	if err != nil {
		return nil, err
	}
	first := c.StartsAt.Add(time.Duration(s.Rules.SealFrom) * time.Minute)
	cycle := time.Duration(max(s.Rules.SealCycle, 1)) * time.Second
	for i := range rows {
		if i%max(s.Rules.SealBags, 1) == 0 {
			from := first.Add(time.Duration(len(out.Turns)) * cycle)
			out.Turns = append(out.Turns, SealTurn{From: from, Until: from.Add(cycle), Minute: int(from.Sub(c.StartsAt) / time.Minute)})
		}
		t := &out.Turns[len(out.Turns)-1]
		t.Bags = append(t.Bags, SealBag{Tag: rows[i].Tag, State: rows[i].State, Sealed: rows[i].sealed(), Kept: rows[i].Missed && !rows[i].sealed()})
	}
	return out, nil
}
