package store

import (
	"context"

	"flitchbook/api/shop"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// Nothing of what is listed here is ever erased by the program. The days say how long a
// shop has to keep it by the rules named in planner/inspection; a written plan may want
// it longer. Only people's food answers go, by a rule of their own (R14).

// keepLot is the last day an ingredient lot's record is to be kept: two years past the
// year it was used up in, or past this year while it is in use.
func keepLot(l *shop.IngredientLot, today unit.Day) unit.Day {
	if l.UsedUpOn != 0 {
		return inspection.KeepPurchase(l.UsedUpOn)
	}
	return inspection.KeepPurchase(max(today, l.OpenedOn))
}

// LotLine is an ingredient lot on the list of lots.
type LotLine struct {
	shop.IngredientLot
	Jars []string // codes of the jars it is in now
	Keep unit.Day
}

// KeptDelivery is a delivery with the last day its papers are to be kept.
type KeptDelivery struct {
	ID      int64
	Lot     string
	Farm    string
	Species string
	Day     unit.Day
	Keep    unit.Day `gorm:"-"`
}

// KeptCure is a class's cure records: tickets, weigh-outs, steps and readings.
type KeptCure struct {
	Class string
	Day   unit.Day // of the class
	Last  unit.Day // last slab handed out, or sealed
	Slabs int
	Keep  unit.Day `gorm:"-"`
}

// KeptRecords is everything that is kept, each with its last kept day.
type KeptRecords struct {
	Deliveries []KeptDelivery
	Lots       []LotLine
	Cures      []KeptCure
	Grinds     []GrindLotView
	EraseDays  int // people's food answers are erased so long after their last slab
}

// Lots lists the ingredient lots, those in use first, then the newest.
func (s *Store) Lots(ctx context.Context) ([]LotLine, error) {
	db := s.read(ctx)
	rows, err := many[shop.IngredientLot](db.Limit(500), "CASE WHEN used_up_on IS NULL THEN 0 ELSE 1 END, ingredient, opened_on DESC, id DESC", "id > 0")
	if err != nil {
		return nil, err
	}
	var in []struct {
		LotID shop.LotID
		Code  string
	}
	if err := db.Raw("SELECT jar_lots.lot_id, jars.code FROM jar_lots JOIN jars ON jars.id = jar_lots.jar_id WHERE jar_lots.until_at = 0 ORDER BY jars.id").Scan(&in).Error; err != nil {
		return nil, err
	}
	jars := map[shop.LotID][]string{}
	for _, j := range in {
		jars[j.LotID] = append(jars[j.LotID], j.Code)
	}
	out := make([]LotLine, len(rows))
	for i, l := range rows {
		out[i] = LotLine{l, jars[l.ID], keepLot(&l, s.Today())}
	}
	return out, nil
}

// Records lists what is kept and until when at least.
func (s *Store) Records(ctx context.Context) (*KeptRecords, error) {
	db := s.read(ctx)
	out := &KeptRecords{EraseDays: s.Rules.EraseDays}
	err := db.Raw(`SELECT deliveries.id, deliveries.lot, farms.name AS farm, orders.species, deliveries.day FROM deliveries JOIN orders ON orders.id = deliveries.order_id JOIN farms ON farms.id = orders.farm_id
		ORDER BY deliveries.day DESC, deliveries.id DESC LIMIT 500`).Scan(&out.Deliveries).Error
	if err != nil {
		return nil, err
	}
	for i := range out.Deliveries {
		out.Deliveries[i].Keep = inspection.KeepPurchase(out.Deliveries[i].Day)
	}
	if out.Lots, err = s.Lots(ctx); err != nil {
		return nil, err
	}
	var cures []struct {
		KeptCure
		Handed unit.Instant
	}
	err = db.Raw(`SELECT classes.code AS class, classes.day, count(*) AS slabs, max(slabs.sealed_on) AS last, coalesce(max(handed.done_at), 0) AS handed FROM
		(SELECT id, code, day FROM classes WHERE EXISTS (SELECT 1 FROM slabs WHERE class_id = classes.id AND sealed_on IS NOT NULL) ORDER BY day DESC, code LIMIT 500) classes
		JOIN slabs ON slabs.class_id = classes.id LEFT JOIN steps handed ON handed.slab_id = slabs.id AND handed.to_state = ? AND handed.counted = ?
		WHERE slabs.sealed_on IS NOT NULL GROUP BY classes.code, classes.day ORDER BY classes.day DESC, classes.code`, shop.Collected, true).Scan(&cures).Error
	if err != nil {
		return nil, err
	}
	for _, c := range cures {
		if c.Handed != 0 {
			c.Last = max(c.Last, c.Handed.Day(s.Loc))
		}
		c.Keep = inspection.KeepPurchase(c.Last)
		out.Cures = append(out.Cures, c.KeptCure)
	}
	entries, err := s.grindEntries(db, ever)
	if err != nil {
		return nil, err
	}
	out.Grinds = lotsOf(s, entries)
	return out, nil
}

// UseUpLot notes that a lot is used up, and takes it out of every jar.
func (s *Store) UseUpLot(ctx context.Context, by shop.Actor, id shop.LotID) error {
	return s.tx(ctx, func(t tx) error {
		l, err := take[shop.IngredientLot](t.DB, "The lot", "id = ?", id)
		if err != nil {
			return err
		}
		if l.UsedUpOn != 0 {
			return shop.Stop("used_up", "%s %s was used up %s.", l.Ingredient, l.Code, l.UsedUpOn.Show())
		}
		if err := changed(t.Model(&shop.IngredientLot{}).Where("id = ? AND used_up_on IS NULL", id).Update("used_up_on", t.today), shop.ErrMoved); err != nil {
			return err
		}
		if err := t.Model(&shop.JarLot{}).Where("lot_id = ? AND until_at = 0", id).Update("until_at", t.now).Error; err != nil {
			return err
		}
		return t.note(by, "lot", int64(id), "used up", "", "", l.Ingredient+" "+l.Code)
	})
}
