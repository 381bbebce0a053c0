package store

import (
	"context"
	"fmt"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// leakTime is how long after sealing a bag that lost its vacuum may still be mended (R26a).
const leakTime = 24 * time.Hour

// Leak is what was seen of a bag that lost its vacuum.
type Leak struct {
	AllLiquid bool        // nothing of its liquid is lost
	Weight    unit.Weight // of the rinsed slab, when liquid is lost
	Late      bool        // taken to be past mending: held whenever it was sealed
}

// Leaker records a bag that lost its vacuum (R26a). Within 24 hours of sealing it is bagged
// again with all its liquid, and its days count on; or, when liquid is lost, it is rinsed
// and begun again at day 0 with a new ticket on its new weight: it is weighed out and sealed
// anew. Later it goes on hold, whatever was seen. It reports whether it was held.
func (s *Store) Leaker(ctx context.Context, by shop.Actor, sc Scan, leak Leak) (held bool, err error) {
	err = s.onSlab(ctx, by, sc, "", func(t tx, sl *shop.Slab) error {
		held = false
		if err := needState(sl, "a leaking bag", shop.InCure); err != nil {
			return err
		}
		sealed, err := t.lastAt("SELECT max(done_at) FROM steps WHERE slab_id = ? AND counted = ? AND to_state = ? AND from_state = ?", sl.ID, true, shop.InCure, shop.Kitted)
		if err != nil {
			return err
		}
		found := sc.at(t.now)
		if leak.Late || found.Sub(sealed) > leakTime {
			held = true
			_, err := t.openHold(by, nil, t.now, fmt.Sprintf("the bag of %s was found leaking %s, %d h after it was sealed", sl.Tag, found.Show(t.s.Loc), int(found.Sub(sealed).Hours())), []shop.Slab{*sl})
			return err
		}
		if leak.AllLiquid {
			_, err := t.moveSlab(sl, move{by: by, scan: sc, reading: "leaking bag: bagged again with all its liquid", set: map[string]any{"leaked_at": found}})
			return err
		}
		if leak.Weight <= 0 {
			return field("weight", "Rinse it, weigh it and write its new weight: its new ticket is made on that.")
		}
		if leak.Weight < sl.Green.MulDiv(8, 10) || leak.Weight > sl.Green.MulDiv(11, 10) {
			return field("weight", "%s weighed %s at cutting and cannot weigh %s now: wrong slab or wrong scale.", sl.Tag, sl.Green.LB(), leak.Weight.LB())
		}
		return t.beginAgain(by, sc, sl, leak.Weight)
	})
	return held, err
}

// beginAgain is a step back: the slab is raw meat with a new weight, and nothing weighed for
// it before counts. What was weighed stays on record, as do the days it lay sealed.
func (t tx) beginAgain(by shop.Actor, sc Scan, sl *shop.Slab, weight unit.Weight) error {
	err := changed(t.Model(&shop.Slab{}).Where("id = ? AND state = ? AND revision = ?", sl.ID, shop.InCure, sl.Revision).
		Updates(map[string]any{"state": shop.Cut, "green": weight, "sealed_on": unit.Day(0), "unbag_from": unit.Day(0), "smoke_on": unit.Day(0),
			"leaked_at": sc.at(t.now), "restarted_at": t.now, "revision": sl.Revision + 1}), shop.ErrMoved)
	if err != nil {
		return err
	}
	m := move{by: by, scan: sc, to: shop.Cut, reading: fmt.Sprintf("leaking bag, liquid lost: rinsed, %s, was %s; day 0 again with a new ticket", weight.LB(), sl.Green.LB()),
		reason: "a bag that lost its liquid is begun again"}
	if err := t.appendStep(sl, m, shop.InCure, shop.Cut, true); err != nil {
		return err
	}
	if err := t.Model(&shop.CureTicket{}).Where("slab_id = ? AND superseded_at = 0", sl.ID).Update("superseded_at", t.now).Error; err != nil {
		return err
	}
	return t.freePlace(sl.ID)
}
