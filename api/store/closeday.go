package store

import (
	"context"
	"errors"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// CloseForWork closes a day for production: nothing is unbagged, smoked or packed then.
// Loads that were planned over it are dropped, and their slabs expected on the next chain
// that fits; new dates wait for the owner to tell them. It is refused where a slab is out
// of its bag for such a load already, for that load must go on. The counter is another
// matter. It returns the days whose loads were dropped.
func (s *Store) CloseForWork(ctx context.Context, by shop.Actor, day unit.Day, reason string) (dropped []unit.Day, err error) {
	if !by.May(shop.Owner) {
		return nil, shop.ErrNotAllowed
	}
	var w shop.Wrong
	if day <= s.Today() {
		w.Add("day", "Only a day to come can be closed.")
	}
	if trim(reason) == "" {
		w.Add("reason", "Say why; it stands on the smoke page and in the feeds of the house.")
	}
	if err := w.Err(); err != nil {
		return nil, err
	}
	err = s.tx(ctx, func(t tx) error {
		dropped = nil
		var c shop.ClosedDay
		err := t.Where("day = ?", day).Take(&c).Error
		switch {
		case errors.Is(err, gorm.ErrRecordNotFound):
			if err := t.Create(&shop.ClosedDay{Day: day, Work: true, Reason: trim(reason)}).Error; err != nil {
				return err
			}
		case err != nil:
			return err
		case c.Work:
			return shop.Stop("closed", "%s is closed already (%s).", day.Show(), c.Reason)
		default:
			if err := t.Model(&shop.ClosedDay{}).Where("day = ?", day).Updates(map[string]any{"work": true, "reason": c.Reason + "; " + trim(reason)}).Error; err != nil {
				return err
			}
		}
		loads, err := many[shop.SmokeLoad](t.DB, "day", "day BETWEEN ? AND ?", day-1, day+1)
		if err != nil {
			return err
		}
		for i := range loads {
			l := &loads[i]
			if l.State != "planned" {
				continue // it hangs: whoever closes the day packs it some other way
			}
			if err := t.dropLoad(by, l, fmt.Sprintf("%s closed: %s", day.Show(), trim(reason))); err != nil {
				return err
			}
			dropped = append(dropped, l.Day)
		}
		if err := t.slipFrom(day); err != nil {
			return err
		}
		return t.note(by, "day", int64(day), "closed for work", "", "", trim(reason))
	})
	return dropped, err
}
